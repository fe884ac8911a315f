// The shape of a verdict; the shapes themselves stand in the page (shapes.html).

const SVG = "http://www.w3.org/2000/svg";

export function shape(result) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("aria-hidden", "true");
  svg.classList.add("shape");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", `#shape-${result}`);
  svg.append(use);
  return svg;
}
