// Each verdict has a shape of its own, drawn to be told apart without colour.

const SVG = "http://www.w3.org/2000/svg";

const SHAPES = {
  conforming: ["M20 3a17 17 0 1 0 .01 0z", "M11 21l6 6 12-14"],
  nonconforming: ["M3 3h34v34H3z", "M11 11l18 18M29 11L11 29"],
  undecided: ["M20 2l18 18-18 18L2 20z", "M14 15c0-8 12-8 12 0 0 5-6 5-6 9M20 28v2"],
  not_evaluated: ["M20 4L38 36H2z", "M20 15v8M20 31v.1"],
};

export function shape(result) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 40 40");
  svg.setAttribute("aria-hidden", "true");
  svg.classList.add("shape");
  SHAPES[result].forEach((line, index) => {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", line);
    path.setAttribute("class", index ? "sign" : "ground");
    svg.append(path);
  });
  return svg;
}
