// A line that an error names is shown and marked in the text that is being mended.

const text = document.getElementById("text");

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-line]");
  if (link === null || text === null) return;
  event.preventDefault();
  select(Number(link.dataset.line));
});

function select(line) {
  const rows = text.value.split("\n");
  const start = rows.slice(0, line - 1).reduce((sum, row) => sum + row.length + 1, 0);
  const around = text.closest("details");
  if (around !== null) around.open = true;
  text.focus();
  text.setSelectionRange(start, start + (rows[line - 1] ?? "").length);
  text.scrollTop = (text.scrollHeight * (line - 4)) / rows.length;
  text.scrollIntoView({ block: "center" });
}
