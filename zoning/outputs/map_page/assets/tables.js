// Zones, stations and pits as tables that can be sorted and searched.

const words = (name, title, of = (row) => row[name], more = {}) => ({ name, title, of, ...more });
const figure = (name, title, decimals, of = (row) => row[name], more = {}) => ({ name, title, of, decimals, number: true, ...more });
// Beside a depth of a zone: guessed ground in it, and that a hazard holds it up.
const marksOf = (row) => (row.guessed.length ? "?" : "") + (row.held_back ? "*" : "");
const MARKS = [
  data.zones.some((zone) => marksOf(zone).includes("?")) ? "; ?: GUESSED ground in it" : "",
  data.zones.some((zone) => marksOf(zone).includes("*")) ? "; *: held up by a hazard, set no deeper" : "",
].join("");
const depthFigure = (name, title, per = 1) => figure(name, title, 1, (row) => (known(row[name]) ? row[name] / per : null), {
  words: (row) => (row[name] === 0 ? ((row.keep_off ? row : zoneOf(row))?.keep_off.length ? "keep off" : "lifted") : number(known(row[name]) ? row[name] / per : null, 1)) + (row.guessed ? marksOf(row) : ""),
});

// A number of a zone as sheet and terminal show it: one is never rounded twice.
const shownFigure = (name, title, of = (row) => row[name]) => figure(name, title, 0, of, { words: (row) => (known(of(row)) ? row.shown[name] : "") });

// Ground that is NOT CLEARED is marked next to the depth, on a phone too, and nothing else has to be
// told of services then: the rest is lifted out or not deeper than the notice depth.
const someHeld = data.zones.some(isHeld);
const heldColumn = (zoneFor) => (someHeld ? [words("held", "NC", (row) => (zoneFor(row) && isHeld(zoneFor(row)) ? "NC" : ""), { mark: true })] : []);

const notesOf = (station) => [...new Set(station.insertions.map((one) => one.note).filter(known))].join("; ");

const TABLES = {
  zones: {
    title: "Zones", marks: MARKS, rows: data.zones, open: openZone,
    columns: [
      figure("zone", "Zone", 0), depthFigure("depth_cm", "Depth, cm"),
      ...(data.plan.pins && data.zones.some((zone) => known(zone.pin_hole)) ? [figure("pin_hole", `Pin${PIN_ASSUMED}`, 0)] : []),
      ...heldColumn((zone) => zone), depthFigure("depth_cm", "Depth, in", 2.54),
      shownFigure("area_ha", "Area, ha"), words("parts", "Parts", partsWords), shownFigure("pan_base_cm", "Pan base, cm"),
      shownFigure("assurance", "Assurance, %", (row) => (row.depth_cm > 0 ? row.assurance : null)),
      ...(data.zones.some((zone) => known(zone.time_min)) ? [shownFigure("time_min", "Time, min"), shownFigure("fuel_l", "Fuel, l")] : []),
      ...(someHeld ? [] : [words("cleared", "Services")]), words("cautions", "Hazards", (row) => sentences(row.cautions, ";").filter((line) => !line.startsWith(HELD)).join("; "), { long: true }),
    ],
  },
  stations: {
    title: "Stations", rows: data.stations, open: openStation,
    columns: [
      words("station", "Station"), depthFigure("work_cm", "Work here, cm"), ...heldColumn(zoneOf),
      words("verdict", "Finding", (row) => verdictWords(row.verdict)), words("part_used", "Part"),
      figure("pan_top_cm", "Pan top, cm", 1), figure("pan_base_cm", "Pan base, cm", 1), figure("error_sd_cm", "± cm", 1), figure("taken_cm", "Taken as, cm", 1), figure("zone", "Zone", 0), words("date", "Date", (row) => row.date, { whole: true }),
      words("used", "Used", (row) => (row.used ? "yes" : "no")), words("reason", "Why", (row) => row.reason, { long: true }),
      ...(data.stations.some(notesOf) ? [words("note", "Note", notesOf, { long: true })] : []),
    ],
  },
  pits: {
    title: "Pits", rows: data.pits, open: openPit,
    columns: [
      words("pit", "Pit"), words("phase", "Phase"), depthFigure("work_cm", "Work here, cm"), ...heldColumn(zoneOf), words("pan", "Finding", pitWords),
      figure("pan_top_cm", "Pan top, cm", 1), figure("pan_base_cm", "Pan base, cm", 1), words("beside", "Probe beside it", besideWords), figure("structure_score", "Structure, 1 to 5", 1),
      words("date", "Date", (row) => row.date, { whole: true }), words("part", "Part"),
      figure("loosened_at_leg_cm", "At a leg, cm", 1), figure("loosened_between_cm", "Between legs, cm", 1), figure("speed_km_h", "Speed, km/h", 1),
      words("moisture", "Moisture"), words("used", "Used", usedWords), words("reason", "Why", (row) => row.reason, { long: true }), words("photo", "Photograph"), words("note", "Note", (row) => row.note, { long: true }),
    ],
  },
};

const cellText = (column, row) => {
  const value = column.of(row);
  if (column.words) return column.words(row);
  return column.number ? number(value, column.decimals) : known(value) ? String(value) : "";
};
const inOrder = new Intl.Collator("en", { numeric: true }).compare;
function compared(column, a, b) {
  const [left, right] = [column.of(a), column.of(b)];
  if (!known(left) || !known(right)) return known(left) ? -1 : known(right) ? 1 : 0;
  return column.number ? left - right : inOrder(String(left), String(right));
}

// A column that is blank in every row is left out.
const filledColumns = ({ columns: [first, ...others], rows }) => [first, ...others.filter((column) => rows.some((row) => cellText(column, row)))];

function tableRow(table, columns, row) {
  const [first, ...others] = columns;
  const name = cellText(first, row);
  const button = make("button", { type: "button", "aria-label": `${name}: show on the map` }, name);
  button.addEventListener("click", () => showOnMap(table, row));
  const look = (column) => (column.number ? "number" : column.long ? "long" : column.whole ? "whole" : null);
  const told = (column) => (column.mark && column.of(row) ? make("strong", { class: "mark" }, column.of(row)) : cellText(column, row));
  const cells = others.map((column) => make("td", { class: look(column) }, told(column)));
  return make("tr", {}, make("th", { scope: "row" }, button), ...cells);
}

function layTable(name) {
  const table = TABLES[name];
  const columns = filledColumns(table);
  const state = { column: columns[0], turned: false, search: "" };
  const body = make("tbody");
  const told = make("p", { role: "status" });
  const searchId = `search-${name}`;
  const search = make("input", { type: "text", id: searchId, autocomplete: "off" });
  const heads = columns.map((column) => {
    const button = make("button", { type: "button" }, column.title);
    const head = make("th", { scope: "col", class: column.number && column !== columns[0] ? "number" : null, "aria-sort": "none" }, button);
    button.addEventListener("click", () => {
      state.turned = state.column === column && !state.turned;
      state.column = column;
      lay();
    });
    return head;
  });
  function lay() {
    const rows = table.rows.filter((row) => !state.search || columns.some((column) => cellText(column, row).toLowerCase().includes(state.search)));
    const filled = (row) => (known(state.column.of(row)) ? 0 : 1);
    rows.sort((a, b) => filled(a) - filled(b) || (state.turned ? compared(state.column, b, a) : compared(state.column, a, b)));
    body.replaceChildren(...rows.map((row) => tableRow(table, columns, row)));
    heads.forEach((head, i) => {
      const mine = columns[i] === state.column;
      head.setAttribute("aria-sort", mine ? (state.turned ? "descending" : "ascending") : "none");
      head.firstChild.textContent = columns[i].title + (mine ? (state.turned ? " ▼" : " ▲") : "");
    });
    told.textContent = rows.length === table.rows.length ? `${rows.length} rows` : `${rows.length} of ${table.rows.length} rows`;
  }
  search.addEventListener("input", () => { state.search = search.value.trim().toLowerCase(); lay(); });
  const caption = `${table.title} of ${data.plan.field}, plan ${data.plan.id.slice(0, 8)}${ASSUMED ? `; ${ASSUMED.replace("assumed", "ASSUMED")}` : ""}${someHeld ? `. NC: ${HELD}, deeper than ${short(data.plan.notice_depth_cm, 1)} cm and services not located` : ""}${table.marks || ""}`;
  const wide = make("div", { class: "wide", tabindex: "0", role: "group", "aria-label": `${table.title}, scrolls sideways` },
    make("table", {}, make("caption", {}, caption), make("thead", {}, make("tr", {}, ...heads)), body));
  const more = make("p", { class: "more", "aria-hidden": "true" }, "More columns to the right →");
  document.getElementById(`view-${name}`).append(make("div", { class: "table-bar" }, make("label", { for: searchId }, "Find in the table", search), told), more, wide);
  lay();
  showThatMore(wide, more);
}
// What runs off the right edge is announced until it has been scrolled to.
function showThatMore(wide, more) {
  const look = () => {
    const runsOff = wide.scrollWidth - wide.clientWidth;
    more.hidden = runsOff < 2;
    wide.classList.toggle("runs-off", runsOff - wide.scrollLeft >= 2);
  };
  wide.addEventListener("scroll", look, { passive: true });
  new ResizeObserver(look).observe(wide);
}

const laidTables = new Set();
function showView(name) {
  closeDetail();
  document.body.dataset.view = name;
  for (const view of ["map", "zones", "stations", "pits"]) document.getElementById(`view-${view}`).hidden = view !== name;
  for (const button of document.querySelectorAll(".views button[data-view]")) button.setAttribute("aria-pressed", String(button.dataset.view === name));
  if (name in TABLES && !laidTables.has(name)) { laidTables.add(name); layTable(name); }
  if (name === "map") map.invalidateSize({ animate: false });
}

function showOnMap(table, row) {
  showView("map");
  if (table === TABLES.zones) map.fitBounds(row.layer.getBounds(), { maxZoom: 18.5, padding: [40, 40], animate: false });
  else map.setView(row.place, Math.max(map.getZoom(), 18), { animate: false });
  const name = table === TABLES.stations ? "stations" : row.phase === "after" ? "after" : "before";
  if (table !== TABLES.zones && !shown.has(name)) document.querySelector(`#overlays input[name="${name}"]`).click();
  table.open(row, document.querySelector(".views button[data-view='map']"));
}
