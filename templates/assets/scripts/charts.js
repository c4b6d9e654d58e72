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

  const draw = (area, given) => {
    const spec = structuredClone(given.kinds[area.dataset.kind]);
    const data = given.data[area.dataset.chart];
    spec.description = area.dataset.description;
    spec.datasets = Object.fromEntries(Object.entries(data).map(([name, columns]) => [name, rows(columns)]));
    const target = document.createElement("div");
    const done = (result) => {
      drawn.get(area)?.finalize();
      drawn.set(area, result);
      area.replaceChildren(target);
      // Of marks that the data have none of, the library leaves a sign without a name.
      for (const none of target.querySelectorAll("[role=graphics-symbol]:empty")) none.setAttribute("aria-hidden", "true");
      area.dataset.drawn = "";
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
