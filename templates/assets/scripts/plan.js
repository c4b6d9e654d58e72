// A slider through the coming two years moves the choice of days. Without this script the days stand there to choose.
(() => {
  "use strict";
  for (const plan of document.querySelectorAll(".stages:has(.slide)")) {
    const slide = plan.querySelector(".slide");
    const slider = slide.querySelector("input");
    const days = [...plan.querySelectorAll("input[type=radio]")];
    const say = () => {
      const day = days[slider.value].nextElementSibling.textContent;
      slide.querySelector("b").textContent = day;
      slider.setAttribute("aria-valuetext", day);
    };
    slider.addEventListener("input", () => {
      days[slider.value].checked = true;
      say();
    });
    plan.addEventListener("change", () => {
      slider.value = days.findIndex((day) => day.checked);
      say();
    });
    slide.hidden = false;
    say();
  }
})();
