// The wear chart's read-out: point at a reading, or step through them with the
// arrow keys, and it is said below the chart. Without this file each reading
// has its words as a title, and all are in the table.

for (const figure of document.querySelectorAll("[data-chart]")) {
  const out = figure.querySelector("[data-readout]");
  for (const svg of figure.querySelectorAll("svg.chart")) watch(svg, out);
}

function watch(svg, out) {
  const readings = [...svg.querySelectorAll("[data-say]")]
    .sort((a, b) => a.dataset.x - b.dataset.x);
  if (readings.length === 0) return;
  let at = -1;

  svg.setAttribute("tabindex", "0");
  svg.addEventListener("focus", () => show(at < 0 ? readings.length - 1 : at));
  svg.addEventListener("blur", () => show(-1));
  svg.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: at - 1, ArrowRight: at + 1, Home: 0, End: readings.length - 1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    show(Math.min(Math.max(step, 0), readings.length - 1));
  });
  svg.addEventListener("pointermove", (event) => show(nearest(event)));
  svg.addEventListener("pointerleave", () => show(-1));

  function nearest(event) {
    const here = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    let best = -1, least = 40; // no farther than 40 units of the drawing
    readings.forEach((reading, i) => {
      const away = Math.hypot(reading.dataset.x - here.x, reading.dataset.y - here.y);
      if (away < least) [best, least] = [i, away];
    });
    return best;
  }

  function show(i) {
    if (i === at) return;
    readings[at]?.classList.remove("shown");
    readings[i]?.classList.add("shown");
    at = i;
    out.textContent = readings[i]?.dataset.say ?? "";
  }
}
