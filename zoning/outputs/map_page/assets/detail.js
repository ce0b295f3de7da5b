// What a zone, a station or a pit says when it is opened.

const panel = document.getElementById("detail");
const panelTitle = document.getElementById("detail-title");
const panelBody = document.getElementById("detail-body");
let openedFrom = null;
let openedAt = null; // the place that the panel tells of
let openedWith = null; // the zone of the position when it was opened
let picked = null;

function facts(rows) {
  const told = rows.filter(([, value]) => known(value));
  return make("dl", {}, ...told.flatMap(([name, value]) => [make("dt", {}, name), make("dd", {}, value)]));
}
const bullets = (lines) => (lines.length ? make("ul", {}, ...lines.map((line) => make("li", {}, line))) : null);
const sentences = (text, mark) => (known(text) ? String(text).split(mark).map((one) => one.trim()).filter(Boolean) : []);

function pick(layer) {
  picked?.getElement()?.classList.remove("picked");
  picked = layer;
  picked?.getElement()?.classList.add("picked");
  if (picked) picked.bringToFront();
}

let ring = null;
function ringAt(place) {
  ring?.remove();
  ring = place ? L.circleMarker(place, still("points", { renderer: pointRenderer, radius: 13, color: "#c2290a", weight: 4, fill: false })).addTo(map) : null;
}

// On a narrow screen the panel lies over the foot of the map: bring the place into what is left.
function bringUp(place) {
  if (window.innerWidth >= 1000) return;
  const frame = document.querySelector(".frame");
  frame.scrollIntoView({ block: "start", behavior: "instant" });
  const free = Math.max(80, panel.getBoundingClientRect().top - frame.getBoundingClientRect().top);
  const at = map.latLngToContainerPoint(place);
  if (at.y > free - 30 || at.y < 30) map.panBy([0, at.y - free / 2], { animate: false });
}

// Where a position is shown, ground of another zone says that one does not stand there.
const elsewhere = make("p", { class: "held" });
function markElsewhere() {
  const located = !panel.hidden && document.body.classList.contains("located");
  const away = located && zoneHere !== undefined && openedAt !== zoneHere;
  elsewhere.textContent = away ? `NOT where you are: you stand ${zoneHere ? `in zone ${zoneHere.zone}` : "outside the field"}.` : "";
  if (away) panelBody.prepend(elsewhere); else elsewhere.remove();
}

function open(title, parts, from, place, of = zoneAt(place) || null) {
  openedFrom = from || document.activeElement;
  [openedAt, openedWith] = [of, zoneHere];
  panelTitle.textContent = title;
  panelBody.replaceChildren(...parts.filter(Boolean));
  panel.hidden = false;
  markElsewhere();
  panel.scrollTop = 0;
  panel.parentElement.scrollTop = 0;
  panel.focus({ preventScroll: true });
  bringUp(place);
}

function closeDetail() {
  if (panel.hidden) return;
  panel.hidden = true;
  pick(null);
  ringAt(null);
  const back = openedFrom && openedFrom.isConnected && openedFrom !== document.body ? openedFrom : document.getElementById("map");
  back.focus({ preventScroll: true });
}

const pinHole = (zone) => pinWords(zone).replace("pin ", "");
const heldNote = (zone) => (zone && isHeld(zone) ? [make("p", { class: "held" }, `${HELD}: deeper than ${short(data.plan.notice_depth_cm, 1)} cm and buried services not located.`)] : []);
// Guessed ground is told of a whole zone, or of the place that was pressed.
const strictNotes = (zone, at) => [keepOffOf(zone).replace(/^k/, "K"), guessedWords(at ? guessedAt(at) : zone.guessed)].filter(Boolean).map((words) => make("p", { class: "held" }, `${words}.`));
function openZone(zone, from, at = null) {
  ringAt(null);
  pick(zone.layer);
  stopAt(data.zones.indexOf(zone), false);
  const passes = zone.depth_cm > 0 ? `${zone.shown.assurance} %, that this depth passes the pan base by ${short(data.plan.clearance_cm, 1)} cm or that there is no pan` : "";
  open(`Zone ${zone.zone}: ${depthWords(zone.depth_cm)}`, [
    ...heldNote(zone),
    ...strictNotes(zone, at),
    ...assumedNote(),
    facts([
      ["Pass here", at ? passWords(at) : ""],
      ["Here", at && unreadAt(at) ? UNREAD : ""],
      ["Pin hole", pinHole(zone)],
      ["Area", `${zone.shown.area_ha} ha`],
      ["Parts", partsWords(zone)],
      ["Pan base", known(zone.pan_base_cm) ? `${short(zone.shown.pan_base_cm, 1)} cm, mean${zone.depth_cm > 0 ? "" : ", where there is a pan"}` : "no pan expected"],
      ["Assurance", passes],
      ["Time", known(zone.time_min) ? aboutWords(zone.shown.time_min, "min") : ""],
      ["Fuel", known(zone.fuel_l) ? aboutWords(zone.shown.fuel_l, "l") : ""],
    ]),
    bullets(sentences(zone.cautions, ";").filter((line) => !line.startsWith(HELD) && !line.startsWith("guessed"))),
    known(zone.machine_changes) ? make("h3", {}, "To change on the machine") : null,
    bullets(sentences(zone.machine_changes, "\n")),
    known(zone.machine_notes) ? make("h3", {}, "Mind") : null,
    bullets(sentences(zone.machine_notes, "\n")),
    digNote(),
  ], from, at || zone.place, zone);
}

const guessedNote = (place) => (guessedAt(place).length ? [make("p", { class: "held" }, `${guessedWords(guessedAt(place))}.`)] : []);
const zoneOf = (one) => zoneNumbered.get(one.zone);
const workHere = (one) => (zoneOf(one) ? [setWords(zoneOf(one), keepOffNear(zoneOf(one), one.place)), isHeld(zoneOf(one)) ? HELD : "", `zone ${one.zone}`, ASSUMED].filter(Boolean).join(", ") : "outside the zones");
function toZone(one) {
  if (!zoneNumbered.has(one.zone)) return null;
  const button = make("button", { type: "button" }, `Open zone ${one.zone}`);
  button.addEventListener("click", () => openZone(zoneNumbered.get(one.zone), openedFrom));
  return button;
}
const base = (one) => {
  if (!known(one.pan_base_cm)) return "";
  const words = one.censored ? `below ${short(one.pan_base_cm, 1)} cm` : `${short(one.pan_base_cm, 1)} cm`;
  return known(one.error_sd_cm) ? `${words} ± ${number(one.error_sd_cm, 1)} cm` : words;
};

function openStation(station, from) {
  pick(null);
  ringAt(station.place);
  const lines = station.insertions.map((one, i) => {
    const pan = span(one.pan_top_cm, one.pan_base_cm);
    return make("li", {}, strokeIcon({ "stroke-width": 3, ...strokeOf(i) }), " ", make("strong", {}, `${one.insertion}: ${verdictWords(one.verdict)}${pan ? `, ${pan}` : ""}. `), one.reason || "", one.note ? ` Note: ${one.note}` : "");
  });
  open(`Station ${station.station}: ${verdictWords(station.verdict)}`, [
    ...heldNote(zoneOf(station)),
    digNote(),
    ...guessedNote(station.place),
    facts([
      ["Pan top", known(station.pan_top_cm) ? `${short(station.pan_top_cm, 1)} cm` : ""],
      ["Pan base", base(station)],
      ["Taken as", known(station.taken_cm) ? `${short(station.taken_cm, 1)} cm, the day allowed for` : ""],
      ["Work here", workHere(station)],
      ["Part", station.part_used],
      ["Date", station.date],
      ["Used", station.used ? "yes" : "no"],
      ["Why", station.reason],
    ]),
    stationChart(station),
    make("h3", {}, "Insertions"),
    make("ul", { class: "lines" }, ...lines),
    toZone(station),
  ], from, station.place);
}

function pitPhoto(pit) {
  if (!known(pit.photo)) return null;
  if (!pit.picture) return make("p", {}, `Photograph: ${pit.photo}, in the field folder.`);
  return make("img", { src: pit.picture, alt: `Photograph of pit ${pit.pit}, ${pit.phase}` });
}
const mateOf = (pit) => data.pits.find((other) => other !== pit && other.pit === pit.pit && other.phase !== pit.phase);
function toMate(mate) {
  if (!mate) return null;
  const button = make("button", { type: "button" }, `Open the pit ${mate.phase} the work`);
  button.addEventListener("click", () => openPit(mate, openedFrom));
  return button;
}
// The probe nearest to a pit, since spade and cone tell on each other.
const stationNamed = new Map(data.stations.map((station) => [station.station, station]));
function besideWords(pit) {
  if (!pit.beside) return "";
  const [name, m] = pit.beside;
  const one = stationNamed.get(name);
  const found = known(one.pan_base_cm) ? `${one.censored ? "below " : ""}${short(one.pan_base_cm, 1)} cm` : verdictWords(one.verdict);
  return `${name}, ${m < 1 ? "<1" : number(m, 0)} m: ${found}${one.used ? "" : ", not used"}`;
}
const usedWords = (pit) => (pit.used === null ? "" : pit.used ? "yes" : "no");
function openPit(pit, from) {
  const mate = mateOf(pit);
  pick(null);
  ringAt(pit.place);
  const phase = pit.phase === "after" ? "after the work" : "before the work";
  open(`Pit ${pit.pit}, ${phase}: ${pitWords(pit)}`, [
    ...heldNote(zoneOf(pit)),
    digNote(),
    ...guessedNote(pit.place),
    facts([
      ["Pan", span(pit.pan_top_cm, pit.pan_base_cm)],
      ["Loosened at a leg", known(pit.loosened_at_leg_cm) ? `${short(pit.loosened_at_leg_cm, 1)} cm` : ""],
      ["Between legs", known(pit.loosened_between_cm) ? `${short(pit.loosened_between_cm, 1)} cm` : ""],
      ["Speed", known(pit.speed_km_h) ? `${short(pit.speed_km_h, 1)} km/h` : ""],
      ["Work here", workHere(pit)],
      ["Structure score", known(pit.structure_score) ? `${short(pit.structure_score, 1)} of 5` : ""],
      ["Probe beside it", besideWords(pit)],
      ["Moisture", pit.moisture],
      ["Part", pit.part],
      ["Date", pit.date],
      ["Used", usedWords(pit)],
      ["Why", pit.reason],
      ["Note", pit.note],
    ]),
    pitChart(pit, mate),
    pitPhoto(pit),
    toMate(mate),
    toZone(pit),
  ], from, pit.place);
}

// The zone of a depth next to a change, since lifted ground may be ground to keep off.
const settingOf = (cm, place) => {
  const zone = data.zones.filter((one) => one.depth_cm === cm).sort((a, b) => metresFrom(place, a.areas) - metresFrom(place, b.areas))[0];
  return zone ? [setWords(zone, keepOffNear(zone, place)), isHeld(zone) ? HELD : ""].filter(Boolean).join(", ") : depthWords(cm);
};
function openChange(change) {
  pick(null);
  ringAt(change.place);
  open(`Pass ${change.pass}, ${number(change.fromM, 1)} m from its start`, [
    ...assumedNote(),
    facts([["Depth before", settingOf(change.before, change.place)], ["Depth from here", settingOf(change.after, change.place)]]),
  ], null, change.place);
}

// A press opens the nearest sign within reach of a finger or a pointer, or else the zone.
function nearest(records, latlng, reach) {
  const at = map.latLngToContainerPoint(latlng);
  let best = null;
  for (const record of records) {
    const away = at.distanceTo(map.latLngToContainerPoint(record.place));
    if (away <= reach && (best === null || away < best.away)) best = { record, away };
  }
  return best;
}
function press(event) {
  const pointer = event.originalEvent?.pointerType || (matchMedia("(pointer: coarse)").matches ? "touch" : "mouse");
  const reach = pointer === "touch" ? 24 : 12;
  const sets = [
    ["stations", data.stations, openStation], ["before", pitsOf("before"), openPit],
    ["after", pitsOf("after"), openPit], ["passes", changes, openChange],
  ].filter(([name]) => shown.has(name));
  const found = sets.map(([name, records, show]) => ({ show, hit: nearest(records, event.latlng, name === "passes" ? reach / 2 : reach) }))
    .filter((one) => one.hit).sort((a, b) => a.hit.away - b.hit.away)[0];
  if (found) { found.show(found.hit.record, document.getElementById("map")); return; }
  const place = [event.latlng.lat, event.latlng.lng];
  const zone = zoneAt(place);
  if (zone) openZone(zone, zone.layer.getElement(), place);
}
