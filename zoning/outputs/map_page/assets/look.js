// Words, numbers and the small signs that map, legend and tables share.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return node;
}
const make = (tag, attributes = {}, ...children) => fill(document.createElement(tag), attributes, children);
const draw = (tag, attributes = {}, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);

const known = (value) => value !== null && value !== undefined && value !== "";
const number = (value, decimals) => (known(value) ? Number(value).toFixed(decimals) : "");
const short = (value, decimals) => number(value, decimals).replace(/\.0+$|(\.\d*?)0+$/, "$1");
const inches = (cm) => number(cm / 2.54, 1);
const depthWords = (cm) => (cm > 0 ? `${short(cm, 1)} cm (${inches(cm)} in)` : "legs lifted out");
const aboutWords = (shown, unit) => (shown.startsWith("<") ? shown.replace("<", "less than ") : `about ${shown}`) + ` ${unit}`;
const span = (top, base) => (known(top) && known(base) ? `${short(top, 1)} to ${short(base, 1)} cm` : "");

const VERDICTS = {
  pan: "pan",
  no_pan: "no pan",
  base_not_reached: "pan, base not reached",
  refused: "refused",
  hard_throughout: "hard throughout",
  unusable: "cannot be used",
};
const verdictWords = (verdict) => VERDICTS[verdict] || String(verdict || "").replaceAll("_", " ");
const pitWords = (pit) => ({ yes: "pan", no: "no pan" })[pit.pan] || "pan not looked for";
const HELD = "NOT CLEARED";
const isHeld = (zone) => zone.cleared === HELD;
const heldMark = () => make("strong", { class: "mark" }, HELD);

// Where no machine is described, or only part of it, every depth says that it is one of an assumed
// machine.
const ASSUMED = data.plan.assumed;
const assumedNote = () => (ASSUMED ? [make("p", { class: "assumed" }, data.plan.assumed_words)] : []);
// The limit of the legs is that of spade and probe.
const digNote = () => make("p", { class: "dig" }, data.plan.digging);

// A setting: no depth is told without its pin.
const PIN_ASSUMED = data.plan.pins_assumed ? " (assumed)" : "";
const pinWords = (one) => (data.plan.pins && known(one.pin_hole) ? `pin ${number(one.pin_hole, 0)}${PIN_ASSUMED}` : "");
// Lifted ground that holds a service or an obstacle is never told without the words to keep off.
const keepsOff = (zone) => zone.keep_off.length > 0;
const keepOff = (names) => (names.length ? `keep off ${names.join(" and ")}` : "");
const keepOffOf = (zone) => keepOff(zone.keep_off);
const setWords = (one, off = keepOffOf(one)) => [depthWords(one.depth_cm), pinWords(one), off].filter(Boolean).join(", ");
// Of the hazards of a zone those within reach of a place, at least the nearest.
const isStrict = (hazard) => !(hazard.allowed_cm > 0);
const byDistance = (hazards, place) => hazards.map((hazard) => ({ hazard, m: metresFrom(place, hazard.keepOff) })).sort((a, b) => a.m - b.m);
const keptOffAbout = (zone, place, aboutM) => byDistance(data.hazards.filter((one) => zone.keep_off.includes(one.called)), place)
  .filter(({ m }, rank) => rank < 1 || m <= aboutM + data.plan.reach_m).map(({ hazard }) => hazard);
const keepOffNear = (zone, place, aboutM = 0) => keepOff(keptOffAbout(zone, place, aboutM).map((one) => one.called));
// Ground whose depth is guessed: no station or pit was read in that part of the field.
const guessedParts = data.parts.filter((part) => part.guessed);
const guessedAt = (place) => guessedParts.filter((part) => inside(place, part.areas)).map((part) => part.part);
const GUESSED_LIMIT = `no station read there: ${data.plan.located ? "ask what is buried, then" : "once services are located,"} probe or dig, and plan again, before it is worked`;
// Ground that no station is near to: its depth comes from afar.
const unread = data.unsure.filter((one) => one.unread);
const FAR = unread.length ? unread[0].reason : "";
const UNREAD = `unread ground: ${FAR}, none within ${short(data.plan.near_m, 1)} m`;
const unreadAt = (place) => unread.some((one) => inside(place, one.areas));
const partsWords = (zone) => [...new Set([...sentences(zone.parts, ";"), ...zone.guessed])].map((part) => (zone.guessed.includes(part) ? `${part} (GUESSED)` : part)).join("; ");
const guessedWords = (parts) => (parts.length ? `GUESSED in ${parts.join(" and ")}, ${GUESSED_LIMIT}` : "");


// Whether white letters stand out more than black on a tone (relative luminance of WCAG 2).
function isDark(tone) {
  const [r, g, b] = [1, 3, 5].map((i) => parseInt(tone.slice(i, i + 2), 16) / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b <= 0.179;
}

// Each verdict has its own shape, so that none is told by colour.
function signPath(sign, x, y, r) {
  const line = (...points) => `M${points.map(([a, b]) => `${(x + a * r).toFixed(1)} ${(y + b * r).toFixed(1)}`).join("L")}`;
  switch (sign) {
    case "base_not_reached":
      return `${line([-1.1, -0.8], [1.1, -0.8], [0, 1.2])}Z`;
    case "refused":
      return line([-0.9, -0.9], [0.9, 0.9]) + line([-0.9, 0.9], [0.9, -0.9]);
    case "hard_throughout":
      return `${line([-0.5, -1.2], [0.5, -1.2], [0.5, 1.2], [-0.5, 1.2])}Z`;
    case "unusable":
      return line([-1, 0], [1, 0]);
    case "drain_point":
      return `${signPath("", x, y, r)}${line([-1, 0], [1, 0])}`;
    case "service_point":
      return `${line([-1, -1], [1, -1], [1, 1], [-1, 1])}Z${line([-1, -1], [1, 1])}${line([-1, 1], [1, -1])}`;
    case "obstacle_point":
      return `${line([0, -1.3], [1.2, 0.9], [-1.2, 0.9])}Z`;
    case "before":
    case "after":
      return `${line(...data.pit_signs[sign])}Z`;
    default:
      return `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;
  }
}
const signFill = (sign, hollow) => (sign === "refused" || sign === "unusable" ? "none" : hollow ? "#fff" : "#000");

function signIcon(sign, hollow = false) {
  const d = signPath(sign, 13, 10, 6);
  return draw("svg", { width: 26, height: 20, "aria-hidden": "true" },
    draw("path", { d, fill: "none", stroke: "#fff", "stroke-width": 5 }),
    draw("path", { d, fill: signFill(sign, hollow), stroke: "#000", "stroke-width": 2.2 }));
}

function swatch(tone, edge = "#111") {
  return draw("svg", { width: 34, height: 20, "aria-hidden": "true" },
    draw("rect", { x: 1, y: 1, width: 32, height: 18, fill: tone, stroke: edge, "stroke-width": 1.5 }));
}

function strokeIcon(...strokes) {
  return draw("svg", { width: 34, height: 20, "aria-hidden": "true" },
    ...strokes.map((stroke) => draw("path", { d: "M1 10H33", fill: "none", ...stroke })));
}
