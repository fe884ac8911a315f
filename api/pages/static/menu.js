// The menu of the bench page: the other pages, and light or dark, which this browser keeps.

import { element, write as put } from "./dom.js";
import { named } from "./labels.js";
import { read, write } from "./kept.js";

const COLOURS = ["auto", "light", "dark"];

function draw() {
  const colours = read("colours", "auto");
  document.documentElement.dataset.colours = colours;
  put("colours", named("bench.menu.colours", colours));
}

export function open() {
  element("colours").onclick = () => {
    write("colours", COLOURS[(COLOURS.indexOf(read("colours", "auto")) + 1) % COLOURS.length]);
    draw();
  };
  const menu = element("menu");
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => { if (!menu.contains(event.target)) menu.open = false; });
  draw();
}
