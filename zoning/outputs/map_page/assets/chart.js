// Cone index against depth, depth downwards: the profile of a station or the column of a pit.

const CHART = { width: 340, height: 330, left: 46, right: 12, top: 46, bottom: 10 };
const STROKES = [
  { stroke: "#111", "stroke-dasharray": "none" },
  { stroke: "#8f3500", "stroke-dasharray": "7 3" },
  { stroke: "#0b4f9c", "stroke-dasharray": "2 3" },
  { stroke: "#5a2a82", "stroke-dasharray": "9 3 2 3" },
  { stroke: "#2f6200", "stroke-dasharray": "12 4" },
];
const strokeOf = (i) => STROKES[i % STROKES.length];

function axes(deepest, hardest) {
  const across = CHART.width - CHART.left - CHART.right;
  const down = CHART.height - CHART.top - CHART.bottom;
  return {
    x: (mpa) => CHART.left + (across * mpa) / hardest,
    y: (cm) => CHART.top + (down * cm) / deepest,
    deepest, hardest,
    right: CHART.width - CHART.right,
    foot: CHART.height - CHART.bottom,
  };
}

const label = (words, x, y, more = {}) => draw("text", { x, y, "font-size": 12, fill: "#000", ...more }, words);
const backed = { stroke: "#fff", "stroke-width": 4, "paint-order": "stroke" };

function scales(at, withCone) {
  const parts = [draw("rect", { x: CHART.left, y: CHART.top, width: at.right - CHART.left, height: at.foot - CHART.top, fill: "#fff", stroke: "#000" })];
  for (let cm = 0; cm <= at.deepest; cm += 10) {
    parts.push(draw("path", { d: `M${CHART.left} ${at.y(cm)}H${at.right}`, stroke: "#c9ccd0", "stroke-width": 1 }));
    parts.push(label(String(cm), CHART.left - 6, at.y(cm) + 4, { "text-anchor": "end" }));
  }
  parts.push(label("depth, cm", 13, (CHART.top + at.foot) / 2, { "text-anchor": "middle", transform: `rotate(-90 13 ${(CHART.top + at.foot) / 2})` }));
  if (!withCone) return parts;
  for (let mpa = 0; mpa <= at.hardest; mpa += 1) {
    parts.push(draw("path", { d: `M${at.x(mpa)} ${CHART.top}v-5`, stroke: "#000" }));
    parts.push(label(String(mpa), at.x(mpa), CHART.top - 8, { "text-anchor": "middle" }));
  }
  parts.push(label("cone index, MPa", (CHART.left + at.right) / 2, 15, { "text-anchor": "middle" }));
  return parts;
}

function panBand(at, top, base, words = "pan") {
  if (!known(top) || !known(base)) return [];
  return [
    draw("rect", { x: CHART.left, y: at.y(top), width: at.right - CHART.left, height: at.y(base) - at.y(top), fill: "#d8cfa8", "fill-opacity": 0.75, stroke: "#6b5d20", "stroke-dasharray": "3 2" }),
    label(words, CHART.left + 6, at.y(base) - 5, backed),
  ];
}

function depthLine(at, cm, words, dash = "none", place = { x: at.right - 4, dy: 14, "text-anchor": "end" }) {
  const { x, dy, ...anchor } = place;
  if (!(cm > 0)) return [];
  return [
    draw("path", { d: `M${CHART.left} ${at.y(cm)}H${at.right}`, stroke: "#00224e", "stroke-width": 3.5, "stroke-dasharray": dash }),
    label(words, x, at.y(cm) + dy, { ...anchor, "font-weight": 700, fill: "#00224e", ...backed }),
  ];
}

function profile(at, insertion, i) {
  const depths = insertion.depths === null ? [] : data.depths[insertion.depths];
  let d = "";
  let pen = "M";
  insertion.mpa.forEach((mpa, row) => {
    if (mpa === null) { pen = "M"; return; }
    d += `${pen}${at.x(mpa).toFixed(1)} ${at.y(depths[row]).toFixed(1)}`;
    pen = "L";
  });
  return d ? [draw("path", { d, fill: "none", "stroke-width": 2.2, ...strokeOf(i) })] : [];
}

function stationChart(station) {
  const values = station.insertions.flatMap((one) => one.mpa.filter((v) => v !== null));
  const depths = station.insertions.flatMap((one) => (one.depths === null ? [] : data.depths[one.depths]));
  const hardest = Math.max(Math.ceil(Math.max(0, ...values)), Math.ceil(data.plan.limit_mpa) + 1);
  const deepest = Math.ceil((Math.max(40, station.work_cm || 0, ...depths) + 4) / 10) * 10;
  const at = axes(deepest, hardest);
  const limit = at.x(data.plan.limit_mpa);
  const says = `Station ${station.station}: cone index against depth. ${verdictWords(station.verdict)}` +
    (known(station.pan_base_cm) ? `, pan ${span(station.pan_top_cm, station.pan_base_cm)}` : "") +
    `. Limit ${data.plan.limit_mpa} MPa. ${known(station.work_cm) ? `Work here: ${workHere(station)}.` : ""}`;
  return draw("svg", { class: "chart", viewBox: `0 0 ${CHART.width} ${CHART.height}`, role: "img", "aria-label": says },
    ...scales(at, true), ...panBand(at, station.pan_top_cm, station.pan_base_cm),
    draw("path", { d: `M${limit} ${CHART.top}V${at.foot}`, stroke: "#000", "stroke-width": 1.5, "stroke-dasharray": "4 3" }),
    label(`limit ${data.plan.limit_mpa} MPa`, limit + 4, at.foot - 6, backed),
    ...station.insertions.flatMap((one, i) => profile(at, one, i)),
    ...depthLine(at, station.work_cm, `work ${short(station.work_cm, 1)} cm`));
}

// An after-work pit shows the pan of the pit dug before it at the same mark.
function pitChart(pit, mate) {
  const pan = pit.phase === "after" && mate && !known(pit.pan_base_cm) ? { of: mate, words: "pan before the work" } : { of: pit, words: "pan" };
  const lines = [pan.of.pan_base_cm, pit.work_cm, pit.pan_base_cm, pit.loosened_at_leg_cm, pit.loosened_between_cm].filter(known);
  const at = axes(Math.ceil((Math.max(40, ...lines) + 4) / 10) * 10, 1);
  const says = `Pit ${pit.pit}, ${pit.phase}: column of soil. ${pitWords(pit)} ${span(pit.pan_top_cm, pit.pan_base_cm)}`;
  const spare = CHART.top - 14; // no scale of cone index above
  return draw("svg", { class: "chart", viewBox: `0 ${spare} ${CHART.width} ${CHART.height - spare}`, role: "img", "aria-label": says },
    ...scales(at, false), ...panBand(at, pan.of.pan_top_cm, pan.of.pan_base_cm, pan.words),
    ...depthLine(at, pit.loosened_between_cm, `between legs ${short(pit.loosened_between_cm, 1)} cm`, "3 3", { x: CHART.left + 6, dy: -6 }),
    ...depthLine(at, pit.loosened_at_leg_cm, `at a leg ${short(pit.loosened_at_leg_cm, 1)} cm`, "9 4", { x: at.right - 4, dy: -6, "text-anchor": "end" }),
    ...depthLine(at, pit.work_cm, `work ${short(pit.work_cm, 1)} cm`));
}
