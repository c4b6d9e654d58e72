// A chart that comes into view is drawn anew, so that a finger or a pointer can ask it for numbers.
// Without this script, or if anything fails, the still picture in the page stays.
(() => {
  "use strict";
  const {library, beside} = document.currentScript.dataset;
  const drawn = new WeakMap();
  let loading = null;

  const bring = (src, begin) => new Promise((ready, failed) => {
    begin(ready);
    const script = document.createElement("script");
    script.src = src;
    script.addEventListener("error", failed);
    document.head.append(script);
  });

  // The data lie in a file beside the page, which calls chartData: that works from a folder too.
  const load = () => loading ??= Promise.all([
    bring(beside, (ready) => { window.chartData = ready; }),
    bring(library, (ready) => document.addEventListener("chart:ready", ready, {once: true})),
  ]).then(([given]) => given);

  // Columns of equal length to the rows the library wants.
  const rows = (columns) => {
    const names = Object.keys(columns);
    return Array.from(columns[names[0]], (_, i) => Object.fromEntries(names.map((name) => [name, columns[name][i]])));
  };

  // A chart of several panels over one axis of time: its specification has one of each part, repeated here.
  const unfold = (spec, figure) => {
    const data = spec.datasets;
    const range = Number(figure.querySelector(".chart-ranges input:checked").value);
    const {since, until} = data.ranges[range];
    const parts = Object.fromEntries(spec.vconcat.map((panel) => [panel.name, panel]));
    data.frame = [{t: since}, {t: until}];
    data.here = [{}];
    const panels = data.panels.map(({of, part, words}) => {
      const name = `${of}-${part}`;
      const {low, high} = data.ends.find((each) => each.panel === name && each.range === range);
      data[`${name}-frame`] = [{t: since, value: low}, {t: until, value: high}];
      data[`${name}-head`] = [{words}];
      return JSON.parse(JSON.stringify({...parts[part], name}).replaceAll("of-", `${of}-`));
    });
    spec.vconcat = [...panels, parts.deeds];
  };

  // One pointer reads all panels: what was last known of each at that time.
  const follow = (figure, view, data) => {
    const slider = figure.querySelector(".chart-day input");
    const told = figure.querySelector("output");
    const day = figure.querySelector(".chart-day b");
    const [{t: since}, {t: until}] = data.frame;
    const last = (list, field, at) => list.findLast((row) => row.t <= at)?.[field];
    const show = (at) => {
      slider.value = Math.round(1000 * (at - since) / (until - since));
      const known = data.panels.map(({of, part, told}) => {
        const said = part === "uptake" ? last(data[`${of}-track`], "rate_words", at)
          : last(data[`${of}-track`], "words", at) ?? last(data[`${of}-readings`], "words", at);
        return said && `${told} ${said}`;
      }).filter(Boolean);
      told.replaceChildren(...known.map((line) => {
        const row = document.createElement("span");
        row.textContent = line;
        return row;
      }));
      day.textContent = new Date(at).toISOString().slice(0, 10);
      slider.setAttribute("aria-valuetext", [day.textContent, ...known].join("; "));
      view.signal("at", at).runAsync();
    };
    const point = (event) => {
      const box = figure.querySelector(".chart-area > div svg").getBoundingClientRect();
      const [left] = view.origin();
      const share = (event.clientX - box.left - left) / (box.width - left - 4);
      if (share >= 0 && share <= 1) show(Math.round(since + share * (until - since)));
    };
    figure.querySelector(".chart-area").onpointermove = point;
    figure.querySelector(".chart-area").onpointerdown = point;
    show(data.today[0].t);
    view.signal("at", 0).runAsync();
    slider.oninput = () => show(Math.round(since + slider.value / 1000 * (until - since)));
  };

  const draw = (area, given) => {
    const spec = structuredClone(given.kinds[area.dataset.kind]);
    const data = given.data[area.dataset.chart];
    const figure = area.closest("figure");
    spec.description = area.dataset.description;
    spec.datasets = Object.fromEntries(Object.entries(data).map(([name, columns]) => [name, rows(columns)]));
    if (data.panels) {
      unfold(spec, figure);
      figure.querySelector(".chart-ranges").onchange = () => draw(area, given);
    }
    const target = document.createElement("div");
    const done = (result) => {
      drawn.get(area)?.finalize();
      drawn.set(area, result);
      area.querySelector(":scope > div")?.remove();
      area.append(target);
      // Of marks that the data have none of, the library leaves a sign without a name.
      for (const none of target.querySelectorAll("[role=graphics-symbol]:empty")) none.setAttribute("aria-hidden", "true");
      area.dataset.drawn = "";
      if (data.panels) follow(figure, result.view, spec.datasets);
    };
    // The labels of the values stand left of the axis, in a strip as wide as the specification says.
    spec.config.view.continuousWidth = Math.max(200, area.clientWidth - 52);
    document.dispatchEvent(new CustomEvent("chart:draw", {detail: {target, spec, drawn: done, failed: () => {}}}));
  };

  const watch = new IntersectionObserver((seen) => {
    for (const {isIntersecting, target} of seen) {
      if (!isIntersecting) continue;
      watch.unobserve(target);
      load().then((given) => {
        draw(target, given);
        let width = target.clientWidth;
        new ResizeObserver(() => {
          if (Math.abs(target.clientWidth - width) < 8) return;
          width = target.clientWidth;
          draw(target, given);
        }).observe(target);
      }, () => {});
    }
  }, {rootMargin: "200px"});

  for (const area of document.querySelectorAll("[data-chart]")) watch.observe(area);
})();
