"use strict";
// The map of the overview, and the map and the device's position of the pit form. Text reaches the
// page as text only.

const SVG = "http://www.w3.org/2000/svg";
const data = JSON.parse(document.getElementById("map-data").textContent);

function node(name, attributes, words) {
  const made = ["svg", "path", "rect", "text"].includes(name) ? document.createElementNS(SVG, name) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  return made;
}

// The signs are drawn by the program; the page only copies them.
function sign(name) {
  const picture = node("svg", { width: 30, height: 30, viewBox: "0 0 22 22", "aria-hidden": "true" });
  picture.innerHTML = data.signs[name];
  return picture;
}

// In the projection of web maps meridians run straight up: north is up everywhere.
function northMark() {
  const mark = L.control({ position: "bottomleft" });
  mark.onAdd = () => {
    const box = node("div", { class: "north", role: "img", "aria-label": "North is up" });
    const arrow = node("svg", { width: 26, height: 40, viewBox: "0 0 26 40", "aria-hidden": "true" });
    arrow.append(
      node("path", { d: "M13 1L20 23L13 18L6 23Z", fill: "#000" }),
      node("text", { x: 13, y: 38, "text-anchor": "middle", "font-size": 16, "font-weight": 700 }, "N"),
    );
    box.append(arrow);
    return box;
  };
  return mark;
}

function makeMap(element) {
  const map = L.map(element, { attributionControl: false, zoomControl: false, maxZoom: 22, zoomSnap: 0.25, fadeAnimation: false, zoomAnimation: false, markerZoomAnimation: false });
  L.control.zoom({ zoomInTitle: "Closer", zoomOutTitle: "Further" }).addTo(map);
  L.control.scale({ imperial: false }).addTo(map);
  northMark().addTo(map);
  const outline = L.geoJSON(data.outline, { style: { color: "#111", weight: 3, fill: false }, interactive: false }).addTo(map);
  map.fitBounds(outline.getBounds().pad(0.04));
  return map;
}

function drawZones(map, open) {
  for (const zone of data.zones) {
    const shape = L.geoJSON(zone.shape, { style: { color: "#333", weight: 1.2, fillColor: zone.tone || "url(#lifted)", fillOpacity: 1, className: "zone" }, interactive: Boolean(open) }).addTo(map);
    if (open) {
      shape.on("click", () => open(zone));
      shape.eachLayer((layer) => {
        const drawn = layer.getElement();
        for (const [key, value] of Object.entries({ tabindex: 0, role: "link", "aria-label": `Zone ${zone.zone}, ${zone.words}` })) drawn.setAttribute(key, value);
        drawn.addEventListener("keydown", (event) => { if (event.key === "Enter") open(zone); });
      });
    }
  }
  drawLabels(map);
  for (const hazard of data.hazards) {
    const dashes = hazard.kind === "drain" ? "8 4" : "16 4 2 4";
    for (const style of [{ color: "#fff", weight: 5.5 }, { color: "#000", weight: 2.5, dashArray: dashes }]) {
      L.geoJSON(hazard.shape, { style: { ...style, fill: false, lineCap: "butt" }, pointToLayer: (_, place) => L.circleMarker(place, { radius: 5 }), interactive: false }).addTo(map);
    }
  }
}

// The roomiest zones first; a label stands on its own ground, else not at all.
const LABEL_FROM_PX = 9;
const SAME_AGAIN_PX = 120; // a zone is labelled again only so far from its own last label
function drawLabels(map) {
  const layer = L.layerGroup().addTo(map);
  const rooms = data.zones.flatMap((zone) => zone.rooms.map(([lon, lat, roomM]) => ({ zone, lon, lat, roomM }))).sort((a, b) => b.roomM - a.roomM);
  const put = () => {
    layer.clearLayers();
    const middle = map.latLngToContainerPoint(map.getCenter());
    const metres = map.distance(map.containerPointToLatLng(middle), map.containerPointToLatLng(middle.add([100, 0]))) / 100;
    const taken = data.pits.map((pit) => boxAround(map.latLngToContainerPoint([pit.at[1], pit.at[0]]).add([0, 8]), 60, 40));
    const told = [];
    for (const { zone, lon, lat, roomM } of rooms) {
      if (roomM / metres < LABEL_FROM_PX) break;
      const at = map.latLngToContainerPoint([lat, lon]);
      if (told.some((one) => one.zone === zone && one.at.distanceTo(at) < SAME_AGAIN_PX)) continue;
      const depth = zone.label === "lifted" ? ["lifted", ""] : [zone.label, " cm"];
      const held = zone.held ? " NC" : "";
      for (const lines of [[depth.join(""), `zone ${zone.zone}${held}`], [depth[0] + held]]) {
        const size = lines.length > 1 ? [lines[1].length * 8 + 8, 36] : [lines[0].length * 9 + 10, 21];
        const box = [0, -0.7, 0.7, -1.3, 1.3].map((shift) => boxAround(at.add([0, (shift * roomM) / metres]), ...size))
          .find((one) => !taken.some((other) => overlap(one, other)) && liesOn(map, one, zone));
        if (!box) continue;
        taken.push(box);
        told.push({ zone, at });
        L.marker(map.containerPointToLatLng([box.x + box.w / 2, box.y + box.h / 2]), { icon: depthLabel(lines, size, zone.held), interactive: false, keyboard: false }).addTo(layer);
        break;
      }
    }
  };
  map.on("zoomend", put);
  put();
}

function depthLabel([depth, zone], [w, h], held) {
  const html = node("span", {}, depth);
  if (zone) html.append(node("small", {}, zone));
  return L.divIcon({ className: held ? "depth-label not-cleared" : "depth-label", html, iconSize: null, iconAnchor: [w / 2, h / 2] });
}

const boxAround = ({ x, y }, w, h) => ({ x: x - w / 2, y: y - h / 2, w, h });
const overlap = (a, b) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
const within = (box, size) => box.x >= 0 && box.y >= 0 && box.x + box.w <= size.x && box.y + box.h <= size.y;
// Whether a label lies on its own zone, or off the field, with most of itself.
function liesOn(map, box, zone) {
  const places = [0.05, 0.275, 0.5, 0.725, 0.95].flatMap((across) => [0.1, 0.5, 0.9].map((down) => map.containerPointToLatLng([box.x + across * box.w, box.y + down * box.h])));
  const own = places.filter(({ lng, lat }) => inShape([lng, lat], zone.shape)).length;
  const off = places.filter(({ lng, lat }) => !inShape([lng, lat], data.outline)).length;
  return own >= 5 && own + off >= 10;
}

function overview(element) {
  const map = makeMap(element);
  drawZones(map, data.still ? null : (zone) => { window.location.href = `/zone/${zone.zone}`; });
  const marks = [];
  for (const pit of data.pits) {
    const html = node("div", {});
    const drawnSign = sign(pit.sign);
    if (pit.stop) drawnSign.setAttribute("class", "stopped");
    html.append(drawnSign, node("span", pit.stop ? { class: "stop-word" } : {}, nameOnMap(pit)));
    marks.push(html);
    const icon = L.divIcon({ className: "pit-mark", html, iconSize: [46, 46], iconAnchor: [23, 23] });
    const marker = L.marker([pit.at[1], pit.at[0]], { icon, keyboard: true, riseOnHover: true, zIndexOffset: pit.stop ? 1000 : 0 }).addTo(map);
    const open = () => { window.location.href = pit.href; };
    marker.on("click", open);
    const drawn = marker.getElement();
    drawn.addEventListener("keydown", (event) => { if (event.key === "Enter") open(); });
    drawn.setAttribute("role", "link");
    drawn.setAttribute("aria-label", `Pit ${pit.pit}, ${pit.phase} the work, ${pit.verdict}${pit.reviewed ? ", reviewed" : ""}${pit.stop ? ", STOP" : ""}`);
  }
  sideBySide(map, marks);
}

const nameOnMap = (pit) => (pit.stop ? `${pit.pit} STOP` : pit.pit);

// Where signs of before and after would cover each other, one steps to the left, the other right.
// A name that would cover a sign or another name waits until the map is nearer; STOP never waits: it
// stands below, above or beside its sign where there is room, and below where there is none.
const ROOM_A_SIGN_PX2 = 7000; // with less room each, signs are drawn smaller
function sideBySide(map, marks) {
  const put = () => {
    const at = data.pits.map((pit) => map.latLngToContainerPoint([pit.at[1], pit.at[0]]));
    const size = map.getSize();
    const inView = at.filter(({ x, y }) => x > 0 && y > 0 && x < size.x && y < size.y).length;
    const crowded = inView * ROOM_A_SIGN_PX2 > size.x * size.y;
    const half = crowded ? 9 : 12;
    map.getContainer().classList.toggle("crowded", crowded);
    data.pits.forEach((pit, i) => {
      const covered = data.pits.some((other, j) => other.phase !== pit.phase && at[i].distanceTo(at[j]) < 26);
      marks[i].className = covered ? `${pit.phase}-side` : "";
      if (covered) at[i] = at[i].add([pit.phase === "before" ? -16 : 16, 0]);
    });
    const taken = at.map(({ x, y }) => ({ x: x - half, y: y - half, w: 2 * half, h: 2 * half }));
    const stopsFirst = [...data.pits.keys()].sort((a, b) => Number(data.pits[b].stop) - Number(data.pits[a].stop));
    for (const i of stopsFirst) {
      const w = nameOnMap(data.pits[i]).length * 9 + 6;
      const { stop } = data.pits[i];
      const down = half + 9.5;
      const across = half + w / 2 + 10;
      const spots = stop ? [[0, down], [0, -down], [across, 0], [-across, 0]] : [[0, down]];
      const boxes = spots.map(([x, y]) => boxAround(at[i].add([x, y]), w, 17));
      const free = boxes.findIndex((box) => !taken.some((other) => overlap(box, other)) && (!stop || within(box, size)));
      const spot = stop ? Math.max(free, 0) : free;
      const name = marks[i].lastChild;
      name.hidden = spot < 0;
      if (spot < 0) continue;
      taken.push(boxes[spot]);
      name.style.left = `${15 + spots[spot][0]}px`;
      name.style.top = `${15 + spots[spot][1] - 8.5}px`;
    }
  };
  map.on("zoomend", put);
  put();
}

const field = (name) => document.querySelector(`form.pit-form [name="${name}"]`);

function inRing([x, y], ring) {
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [ax, ay] = ring[i];
    const [bx, by] = ring[j];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  }
  return inside;
}
function inShape(place, shape) {
  const polygons = shape.type === "Polygon" ? [shape.coordinates] : shape.coordinates;
  return polygons.some(([outer, ...holes]) => inRing(place, outer) && !holes.some((hole) => inRing(place, hole)));
}

function placeWords(lon, lat, from, error) {
  const zone = data.zones.find((one) => inShape([lon, lat], one.shape));
  const off = error === undefined ? "" : `, off by up to ${Math.round(error)} m`;
  if (!data.zones.length) return `Place from ${from}${off}.`;
  if (zone) return `Place from ${from}${off}. Zone ${zone.zone}, planned: ${zone.words}.`;
  return `Place from ${from}${off}. This is outside every zone of the plan.`;
}

function picking(element) {
  const map = makeMap(element);
  drawZones(map, null);
  const told = document.getElementById("place-told");
  let mark = null;
  const phase = () => document.querySelector('[name="phase"]:checked')?.value || "after";
  const icon = () => L.divIcon({ className: "pit-mark", html: sign(phase()), iconSize: [46, 46], iconAnchor: [23, 23] });
  for (const one of document.querySelectorAll('[name="phase"]')) one.addEventListener("change", () => mark?.setIcon(icon()));
  const put = (lon, lat, from, error) => {
    if (mark) mark.setLatLng([lat, lon]);
    else mark = L.marker([lat, lon], { icon: icon(), interactive: false, keyboard: false, zIndexOffset: 1000 }).addTo(map);
    field("lon").value = lon.toFixed(data.place_decimals);
    field("lat").value = lat.toFixed(data.place_decimals);
    field("place_from").value = from;
    field("place_error_m").value = error === undefined ? "" : Math.min(error, 99999).toFixed(1);
    told.textContent = placeWords(lon, lat, from === "map" ? "the map" : "this device", error);
  };
  map.on("click", (event) => put(event.latlng.lng, event.latlng.lat, "map"));
  const typed = (words) => {
    const [lon, lat] = ["lon", "lat"].map((name) => Number(field(name).value.replace(",", ".")));
    if (!field("lon").value || !field("lat").value || !(Math.abs(lon) <= 180 && Math.abs(lat) <= 90)) return;
    field("place_from").value = "typed";
    field("place_error_m").value = "";
    if (mark) mark.setLatLng([lat, lon]);
    else mark = L.marker([lat, lon], { icon: icon(), interactive: false, keyboard: false, zIndexOffset: 1000 }).addTo(map);
    told.textContent = placeWords(lon, lat, words);
  };
  for (const name of ["lon", "lat"]) field(name).addEventListener("change", () => typed("what is typed"));
  if (field("lon").value && field("lat").value) {
    const kept = field("place_from").value;
    const error = field("place_error_m").value;
    typed(told.dataset.beside || "what is typed");
    if (kept) {
      field("place_from").value = kept;
      field("place_error_m").value = error;
      const from = { map: "the map", device: "this device", file: "the field's files" }[kept] || "what is typed";
      told.textContent = placeWords(Number(field("lon").value.replace(",", ".")), Number(field("lat").value.replace(",", ".")), from, error ? Number(error) : undefined);
    }
  } else told.textContent = "Tap the map where the pit is, use the device, or type the place.";
  device(put, told);
}

function device(put, told) {
  const button = document.getElementById("use-device");
  button.hidden = false;
  button.addEventListener("click", () => {
    if (!window.isSecureContext || !navigator.geolocation) {
      told.textContent = "This browser gives its position only to pages on the same computer or with encryption. Tap the map instead.";
      return;
    }
    told.textContent = "Waiting for the position ...";
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => put(coords.longitude, coords.latitude, "device", coords.accuracy),
      (fault) => { told.textContent = `No position (${fault.message || "refused"}). Tap the map instead.`; },
      { enableHighAccuracy: true, timeout: 20000, maximumAge: 0 },
    );
  });
}

function phaseOnly() {
  const show = () => {
    const before = document.querySelector('[name="phase"]:checked')?.value === "before";
    for (const part of document.querySelectorAll(".after-only")) part.hidden = before;
  };
  for (const one of document.querySelectorAll('[name="phase"]')) one.addEventListener("change", show);
  show();
}

const whole = document.getElementById("map");
const pick = document.getElementById("pick");
if (whole) overview(whole);
if (pick) { picking(pick); phaseOnly(); }
document.body.dataset.ready = "yes";
