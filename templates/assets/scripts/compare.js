// Lays any two photographs of the strip over each other; a slider draws the edge between them.
// Without this script they stand side by side.
(() => {
  "use strict";
  const box = document.querySelector("[data-compare]");
  const photos = [...document.querySelectorAll(".strip img")];
  const two = box.querySelector(".two");
  const slider = box.querySelector("input");
  const [before, after] = box.querySelectorAll("select");

  const slide = () => {
    two.lastElementChild.style.clipPath = `inset(0 0 0 ${slider.value}%)`;
    two.style.setProperty("--edge", `${slider.value}%`);
  };
  const show = () => {
    two.replaceChildren(...[before, after].map((side) => {
      const photo = photos[side.value].cloneNode();
      photo.loading = "eager";
      photo.sizes = "(min-width: 48rem) 40rem, 92vw";
      return photo;
    }));
    // What lies under the slider does not stand below it once more.
    for (const [index, photo] of photos.entries()) {
      photo.closest("li").hidden = [before.value, after.value].includes(String(index));
    }
    slide();
  };
  // A finger or a pointer on the picture takes the edge with it.
  const drag = (event) => {
    if (event.type === "pointermove" && !event.buttons) return;
    const {left, width} = two.getBoundingClientRect();
    slider.value = Math.round(100 * (event.clientX - left) / width);
    slide();
  };
  two.addEventListener("pointerdown", drag);
  two.addEventListener("pointermove", drag);
  slider.addEventListener("input", slide);
  for (const side of [before, after]) side.addEventListener("change", show);
  box.hidden = false;
  show();
})();
