// The menu of the bench page: the other pages, and light or dark, which this browser keeps for every
// page (colours.js).

import { element, write as put } from "./dom.js";
import { named } from "./labels.js";

const COLOURS = ["auto", "light", "dark"];
const { dataset } = document.documentElement;

function draw() {
  if (!COLOURS.includes(dataset.colours)) dataset.colours = "auto";
  put("colours", named("bench.menu.colours", dataset.colours));
}

function turn() {
  dataset.colours = COLOURS[(COLOURS.indexOf(dataset.colours) + 1) % COLOURS.length];
  try {
    localStorage.setItem("witnessmark colours", dataset.colours);
  } catch {
    // It is kept until the page is closed.
  }
  draw();
}

export function open() {
  element("colours").onclick = turn;
  const menu = element("menu");
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => { if (!menu.contains(event.target)) menu.open = false; });
  draw();
}
