// A size from a photo: pure functions, cm and pixels in, cm and cm² out. Also described on the methods page.
globalThis.sizeFromPhoto = (() => {
  "use strict";
  // 90 of 100 normal errors are within so many standard uncertainties (JCGM 100:2008, table G.1).
  const COVERAGE = 1.645;
  // Half a millimetre is what a ruler or a plug is known to; a lens draws the edges of a picture up to 2 % smaller or
  // larger than its middle; a distance that is guessed is off by a fifth. Common practice, no source.
  const RULER = 0.05;
  const LENS = 0.02 / Math.sqrt(3);
  const GUESSED = 0.2;
  const LEAST_BEHIND = 0.5;

  const apart = ([x, y], [u, v]) => Math.hypot(x - u, y - v);

  // How far off the axis a thing is that is seen r pixels off the middle of the picture, `air` cm before the surface
  // and `depth` cm behind it. Source: Snell's law; a pane of glass moves the ray by less than its thickness.
  const lateral = (r, focal, air, depth, n) => {
    const sine = r / Math.hypot(r, focal) / n;
    return air * r / focal + depth * sine / Math.sqrt(1 - sine * sine);
  };

  // A point of the picture on the plane at a depth behind the surface, in cm if the focal length is right.
  const onPlane = ([x, y], {width, height, focal, air, n}, depth) => {
    const [u, v] = [x - width / 2, y - height / 2];
    const r = Math.max(Math.hypot(u, v), 1e-6);
    const scale = lateral(r, focal, air, depth, n) / r;
    return [u * scale, v * scale];
  };

  // Longest distance between two points of an outline, breadth at right angles to it (Feret's diameters, ISO 9276-6),
  // area (the shoelace formula) and perimeter.
  const shape = (outline) => {
    let [length, along] = [0, [1, 0]];
    for (const one of outline) {
      for (const other of outline) {
        const far = apart(one, other);
        if (far > length) [length, along] = [far, [(other[0] - one[0]) / far, (other[1] - one[1]) / far]];
      }
    }
    const across = outline.map(([x, y]) => y * along[0] - x * along[1]);
    let [twice, perimeter] = [0, 0];
    outline.forEach((one, index) => {
      const next = outline[(index + 1) % outline.length];
      twice += one[0] * next[1] - next[0] * one[1];
      perimeter += apart(one, next);
    });
    return {length, width: Math.max(...across) - Math.min(...across), area: Math.abs(twice) / 2, perimeter};
  };

  // The size of what an outline encloses. `marks` are two points `known` cm apart, `depth` cm behind the surface of the
  // water; the outline's plane is `behind` cm further.
  const measure = (photo) => {
    const {marks, outline, known, depth, behind} = photo;
    const ruler = apart(onPlane(marks[0], photo, depth), onPlane(marks[1], photo, depth));
    const scale = known / ruler;
    return shape(outline.map((point) => onPlane(point, photo, depth + behind).map((each) => each * scale)));
  };

  // The size with its likely range and what makes it unsure, each as a share of the length. Every input is moved by its
  // standard uncertainty (JCGM 100:2008, 5.1.3); `slip` is how far a tap misses, in pixels, `tilt` up to how many
  // degrees ruler or coral may lean away from the picture's plane.
  const estimate = (photo, {slip, tilt}) => {
    const found = measure(photo);
    const names = ["length", "width", "area"];
    const moved = (change) => {
      const other = measure({...photo, ...change});
      return names.map((name) => other[name] / found[name] - 1);
    };
    const taps = [0, 1].flatMap((mark) => [[slip, 0], [0, slip]].map(([u, v]) =>
      moved({marks: photo.marks.map(([x, y], index) => (index === mark ? [x + u, y + v] : [x, y]))})));
    const behind = Math.max(LEAST_BEHIND, Math.abs(photo.behind) / 4);
    // Up to `tilt` degrees off, with each angle as likely: a rectangular distribution (JCGM 100:2008, 4.3.7).
    const lean = (1 / Math.cos(tilt * Math.PI / 180) - 1) / Math.sqrt(3);
    // A finger that keeps to one side of the edge all the way round.
    const pixel = found.length / shape(photo.outline).length;
    const edge = [Math.SQRT2 * slip * pixel / found.length, Math.SQRT2 * slip * pixel / found.width,
      found.perimeter * slip * pixel / 2 / found.area];
    const parts = {
      ruler: [...taps, moved({known: photo.known + RULER})],
      outline: [edge],
      tilt: [[lean, lean, 2 * lean], [lean, lean, lean]],
      distance: [moved({behind: photo.behind + behind}),
        moved({air: photo.air * (1 + GUESSED), depth: photo.depth * (1 + GUESSED)})],
      water: [moved({focal: photo.focal * (1 + GUESSED)}), [LENS, LENS, 2 * LENS]],
    };
    const shares = Object.fromEntries(Object.entries(parts).map(([name, each]) =>
      [name, names.map((_, index) => Math.hypot(...each.map((one) => one[index])))]));
    const sizes = Object.fromEntries(names.map((name, index) => {
      const half = COVERAGE * found[name] * Math.hypot(...Object.values(shares).map((each) => each[index]));
      return [name, {value: found[name], low: Math.max(0, found[name] - half), high: found[name] + half}];
    }));
    return {...sizes, parts: Object.fromEntries(Object.entries(shares).map(([name, each]) => [name, each[0]]))};
  };

  return {lateral, shape, measure, estimate};
})();
