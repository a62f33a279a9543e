"use strict";
// A moment under the pointer: what the curves of a picture say there. The page is whole without it.
for (const svg of document.querySelectorAll("svg[data-hours]")) {
  const [left, right] = svg.dataset.hours.split(" ").map(Number);
  const note = svg.parentElement.querySelector(".moment");
  const curves = [...svg.querySelectorAll("path[data-name]")].map((path) => ({
    ...path.dataset,
    points: path.getAttribute("d").slice(1).split("L").map((pair) => pair.split(" ").map(Number)),
  }));
  const hair = document.createElementNS(svg.namespaceURI, "path");
  hair.setAttribute("class", "hair");
  svg.append(hair);
  const away = () => { note.hidden = true; hair.removeAttribute("d"); };
  const told = (curve, x) => {
    const next = Math.max(curve.points.findIndex((point) => point[0] >= x), 1);
    const [a, b] = [curve.points[next - 1], curve.points[next]];
    const y = b[0] === a[0] ? b[1] : a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
    const value = Math.max((curve.base - y) * curve.per, 0);
    return `${curve.name} ${value.toFixed(value < 10 ? 1 : 0)} ${curve.unit}`;
  };
  svg.addEventListener("pointerleave", away);
  svg.addEventListener("pointermove", (event) => {
    const box = svg.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
    if (x < left || x > right) { away(); return; }
    const minute = Math.min(Math.round((x - left) / (right - left) * 1440), 1440);
    const clock = [Math.floor(minute / 60), minute % 60].map((n) => String(n).padStart(2, "0")).join(":");
    note.textContent = `${clock}  ${curves.map((curve) => told(curve, x)).join(" · ")}`;
    note.hidden = false;
    hair.setAttribute("d", `M${x} 0V${svg.viewBox.baseVal.height}`);
  });
}
