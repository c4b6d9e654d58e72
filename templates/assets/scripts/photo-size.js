// The page that takes a size from a photo: opens it on this device only, takes taps and an outline, says the size.
(() => {
  "use strict";
  const box = document.querySelector("[data-photo-size]");
  const {n, length: unit, unitCm, decimal, corals, zone, words} = JSON.parse(document.getElementById("photo-size-data").textContent);
  const at = (id) => document.getElementById(id);
  const canvas = at("picture");
  const pen = canvas.getContext("2d");
  // The journal's day, whatever the device's clock shows.
  const today = () => {
    try { return new Intl.DateTimeFormat("sv-SE", {timeZone: zone, dateStyle: "short"}).format(); } catch { return new Intl.DateTimeFormat("sv-SE", {dateStyle: "short"}).format(); }
  };
  const fill = (text, blanks) => text.replace(/\{(\w+)\}/g, (_, name) => blanks[name]);
  // How far a tap misses on the screen, CSS pixels: common practice, no source.
  const SLIP = 2;
  // What a telephone's main camera sees is what 26 mm see on film 36 mm wide: common practice, no source.
  const focalOf = (width, height) => Math.max(width, height) * 26 / 36;

  let picture = null;
  let marks = [];
  let strokes = [];
  let cursor = [0, 0];
  let zoom = 1;
  let drawing = false;
  const outline = () => strokes.flat();
  const mode = () => box.querySelector('[name="mode"]:checked').value;
  const scale = () => canvas.width / canvas.clientWidth;
  const reading = (id) => {
    const text = at(id).value.trim().replace(",", ".");
    return /^-?\d*\.?\d+$/.test(text) ? Number(text) : NaN;
  };

  const draw = () => {
    if (!picture) return;
    const style = getComputedStyle(canvas);
    const [ink, paper] = [style.getPropertyValue("--sea").trim() || "#0b5a70", "#ffffff"];
    const line = 2 * scale();
    pen.drawImage(picture, 0, 0);
    const trace = (points, closed, stroke, width) => {
      if (points.length < 1) return;
      pen.beginPath();
      points.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (closed) pen.closePath();
      pen.strokeStyle = stroke;
      pen.lineWidth = width;
      pen.stroke();
    };
    const cross = ([x, y], size) => {
      for (const [colour, width] of [[paper, 3 * line], [ink, line]]) {
        trace([[x - size, y], [x + size, y]], false, colour, width);
        trace([[x, y - size], [x, y + size]], false, colour, width);
      }
    };
    for (const [colour, width] of [[paper, 3 * line], [ink, line]]) {
      trace(outline(), true, colour, width);
      trace(marks.filter(Boolean), false, colour, width);
    }
    for (const mark of marks.filter(Boolean)) cross(mark, 8 * scale());
    if (document.activeElement === canvas && canvas.dataset.keys !== undefined) cross(cursor, 14 * scale());
  };

  const say = (value, digits) => value.toFixed(digits).replace(".", decimal);
  const range = (of, factor, name) => {
    const half = (of.high - of.low) / 2 / factor;
    const digits = Math.max(0, Math.min(3, (half / 10 ** Math.floor(Math.log10(half)) < 2.995 ? 1 : 0) - Math.floor(Math.log10(half))));
    return fill(words.range, {value: say(of.value / factor, digits), low: say(of.low / factor, digits), high: say(of.high / factor, digits), unit: name});
  };
  const photo = () => {
    const through = box.querySelector('[name="through"]').value;
    const [front, back] = [Math.max(0, reading("front")) * unitCm, Math.max(0, reading("back")) * unitCm];
    const wet = through === "pane";
    return {
      width: canvas.width, height: canvas.height, focal: focalOf(canvas.width, canvas.height), marks, outline: outline(),
      known: reading("known") * unitCm, behind: (reading("behind") || 0) * unitCm, n: wet ? n : 1,
      air: wet ? front : front + back, depth: wet ? back : 0,
    };
  };
  const missing = (given) => {
    if (!picture) return words.open_first;
    if (!marks[0] || !marks[1]) return words.need_marks;
    if (!(given.known > 0)) return words.need_known;
    if (!(given.air + given.depth > 0) || !(given.air + given.depth + given.behind > 0)) return words.need_distance;
    return given.outline.length < 3 ? words.need_outline : "";
  };
  const update = () => {
    draw();
    const given = photo();
    const open = missing(given);
    at("sizes").hidden = Boolean(open);
    at("state").textContent = open || fill(words.points, {n: given.outline.length});
    if (open) return;
    const found = sizeFromPhoto.estimate(given, {slip: SLIP * scale(), tilt: Number(box.querySelector('[name="tilt"]').value)});
    at("length").textContent = range(found.length, unitCm, unit);
    at("width").textContent = range(found.width, unitCm, unit);
    at("area").textContent = range(found.area, unitCm ** 2, `${unit}²`);
    at("parts").replaceChildren(...Object.entries(found.parts).sort((one, other) => other[1] - one[1]).map(([name, share]) =>
      Object.assign(document.createElement("li"), {textContent: fill(words[`part_${name}`], {share: say(100 * share, 1)})})));
    const digits = (of) => Math.max(0, Math.min(2, -Math.floor(Math.log10((of.high - of.low) / 2 / unitCm))));
    const [long, wide] = [found.length, found.width].map((of) => (of.value / unitCm).toFixed(digits(of)));
    const coral = at("coral").value;
    at("line").textContent = coral
      ? `corallite note ${coral} "${today()}: measured ${long} ${unit} x ${wide} ${unit}"\n\n# corals/${coral}.yaml, sizes:\n  - {at: ${today()}, length: ${long} ${unit}, width: ${wide} ${unit}}`
      : words.choose_coral;
    at("onward").hidden = !coral;
    at("onward").href = `${box.dataset.write}#of-${coral}:${long}:${wide}`;
  };

  const open = async (file) => {
    try {
      picture?.close();
      picture = await createImageBitmap(file);
    } catch {
      picture = null;
      at("state").textContent = words.cannot_open;
      return;
    }
    canvas.width = picture.width;
    canvas.height = picture.height;
    cursor = [picture.width / 2, picture.height / 2];
    [marks, strokes, zoom] = [[], [], 1];
    at("stage").hidden = false;
    resize();
  };
  const resize = () => {
    canvas.style.width = `${100 * zoom}%`;
    update();
  };
  const put = (point, dragged) => {
    if (mode() === "outline") {
      const stroke = strokes.at(-1);
      if (!dragged) strokes.push([point]);
      else if (Math.hypot(point[0] - stroke.at(-1)[0], point[1] - stroke.at(-1)[1]) > 3 * scale()) stroke.push(point);
    } else marks[Number(mode())] = point;
    update();
  };
  const next = () => {
    const order = ["0", "1", "outline"];
    const after = order[order.indexOf(mode()) + 1];
    if (mode() !== "outline" && after) box.querySelector(`[name="mode"][value="${after}"]`).checked = true;
  };
  const pointOf = (event) => {
    const frame = canvas.getBoundingClientRect();
    const inside = (value, most) => Math.min(most, Math.max(0, value));
    return [inside((event.clientX - frame.left) * scale(), canvas.width), inside((event.clientY - frame.top) * scale(), canvas.height)];
  };
  const moves = () => mode() === "move";

  at("file").addEventListener("change", ({target}) => target.files[0] && open(target.files[0]));
  canvas.addEventListener("pointerdown", (event) => {
    if (moves()) return;
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    delete canvas.dataset.keys;
    drawing = true;
    put(pointOf(event), false);
  });
  canvas.addEventListener("pointermove", (event) => { if (drawing) put(pointOf(event), true); });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => {
    if (!drawing) return;
    drawing = false;
    next();
    touches();
  });
  canvas.addEventListener("keydown", (event) => {
    const step = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[event.key];
    if (step) {
      const far = (event.shiftKey ? 1 : 10) * scale();
      cursor = [cursor[0] + step[0] * far, cursor[1] + step[1] * far].map((each, axis) => Math.min([canvas.width, canvas.height][axis], Math.max(0, each)));
      canvas.dataset.keys = "";
      draw();
    } else if (event.key === "Enter" || event.key === " ") {
      if (moves()) return;
      put([...cursor], false);
      next();
      touches();
    } else if (event.key === "Backspace") undo();
    else return;
    event.preventDefault();
  });
  canvas.addEventListener("focus", draw);
  canvas.addEventListener("blur", draw);
  const undo = () => { strokes.pop(); update(); };
  const touches = () => { canvas.style.touchAction = moves() ? "auto" : "none"; };
  at("undo").addEventListener("click", undo);
  at("again").addEventListener("click", () => { strokes = []; update(); });
  at("larger").addEventListener("click", () => { zoom = Math.min(8, zoom * 1.5); resize(); });
  at("smaller").addEventListener("click", () => { zoom = Math.max(1, zoom / 1.5); resize(); });
  at("copy").addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(at("line").textContent);
      at("said").textContent = words.copied;
    } catch {
      getSelection().selectAllChildren(at("line"));
      at("said").textContent = words.select;
    }
  });
  box.addEventListener("submit", (event) => event.preventDefault());
  box.addEventListener("input", () => { touches(); update(); });
  const asked = location.hash.slice(4);
  if (corals.includes(asked)) at("coral").value = asked;
  touches();
  update();
})();
