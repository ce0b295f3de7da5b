"use strict";
// The map of the overview, and the map and the device's position of the pit form. Text reaches the
// page as text only.

const SVG = "http://www.w3.org/2000/svg";
const data = JSON.parse(document.getElementById("map-data").textContent);

function node(name, attributes, words) {
  const made = name === "svg" || name === "path" || name === "rect" ? document.createElementNS(SVG, name) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  return made;
}

function sign(phase, inner) {
  const picture = node("svg", { width: 30, height: 30, viewBox: "0 0 22 22", "aria-hidden": "true" });
  picture.append(
    phase === "before"
      ? node("rect", { x: 4, y: 4, width: 14, height: 14, fill: "#111", stroke: "#fff", "stroke-width": 2 })
      : node("path", { d: "M11 2l9 9-9 9-9-9Z", fill: "#fff", stroke: "#9a3300", "stroke-width": 3 }),
  );
  if (inner && inner[0]) picture.append(node("path", { d: inner[0], fill: inner[1], stroke: "#9a3300", "stroke-width": 1.5 }));
  return picture;
}

function makeMap(element) {
  const map = L.map(element, { attributionControl: false, zoomControl: false, maxZoom: 22, zoomSnap: 0.25, fadeAnimation: false, zoomAnimation: false, markerZoomAnimation: false });
  L.control.zoom({ zoomInTitle: "Closer", zoomOutTitle: "Further" }).addTo(map);
  L.control.scale({ imperial: false }).addTo(map);
  const outline = L.geoJSON(data.outline, { style: { color: "#111", weight: 3, fill: false }, interactive: false }).addTo(map);
  map.fitBounds(outline.getBounds().pad(0.04));
  return map;
}

function drawZones(map, open) {
  for (const zone of data.zones) {
    const shape = L.geoJSON(zone.shape, { style: { color: "#333", weight: 1.2, fillColor: zone.tone || "#fff", fillOpacity: zone.tone ? 1 : 0.6, className: "zone" }, interactive: Boolean(open) }).addTo(map);
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
    L.geoJSON(hazard.shape, { style: { color: "#000", weight: 2.5, dashArray: hazard.kind === "drain" ? "8 4" : "16 4 2 4" }, pointToLayer: (_, place) => L.circleMarker(place, { radius: 5, color: "#000" }), interactive: false }).addTo(map);
  }
}

function drawLabels(map) {
  const layer = L.layerGroup().addTo(map);
  const put = () => {
    layer.clearLayers();
    const taken = data.pits.map((pit) => map.latLngToContainerPoint([pit.at[1], pit.at[0]]).add([0, 10]));
    for (const zone of data.zones) {
      const place = [zone.at[1], zone.at[0]];
      const at = map.latLngToContainerPoint(place);
      if (taken.some((other) => Math.abs(other.x - at.x) < 56 && Math.abs(other.y - at.y) < 26)) continue;
      taken.push(at);
      const icon = L.divIcon({ className: "depth-label", html: node("span", {}, zone.label), iconSize: null, iconAnchor: [14, 11] });
      L.marker(place, { icon, interactive: false, keyboard: false }).addTo(layer);
    }
  };
  map.on("zoomend", put);
  put();
}

function overview(element) {
  const map = makeMap(element);
  drawZones(map, (zone) => { window.location.href = `/zone/${zone.zone}`; });
  const marks = [];
  for (const pit of data.pits) {
    const html = node("div", {});
    html.append(sign(pit.phase, pit.inner), node("span", {}, pit.pit));
    marks.push(html);
    const icon = L.divIcon({ className: "pit-mark", html, iconSize: [46, 46], iconAnchor: [23, 23] });
    const marker = L.marker([pit.at[1], pit.at[0]], { icon, keyboard: true, riseOnHover: true }).addTo(map);
    const open = () => { window.location.href = `/pit/${encodeURIComponent(pit.id)}`; };
    marker.on("click", open);
    const drawn = marker.getElement();
    drawn.addEventListener("keydown", (event) => { if (event.key === "Enter") open(); });
    drawn.setAttribute("role", "link");
    drawn.setAttribute("aria-label", `Pit ${pit.pit}, ${pit.phase} the work, ${pit.verdict}${pit.reviewed ? ", reviewed" : ""}`);
  }
  sideBySide(map, marks);
}

// Where signs of before and after would cover each other, one steps to the left, the other right.
// A name that would cover a sign or another name waits until the map is nearer.
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
    data.pits.forEach((pit, i) => {
      const w = pit.pit.length * 9 + 6;
      const box = { x: at[i].x - w / 2, y: at[i].y + half + 1, w, h: 17 };
      const free = !taken.some((other) => box.x < other.x + other.w && other.x < box.x + w && box.y < other.y + other.h && other.y < box.y + box.h);
      marks[i].lastChild.hidden = !free;
      if (free) taken.push(box);
    });
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
  const icon = L.divIcon({ className: "pit-mark", html: sign("after"), iconSize: [46, 46], iconAnchor: [23, 23] });
  const told = document.getElementById("place-told");
  let mark = null;
  const put = (lon, lat, from, error) => {
    if (mark) mark.setLatLng([lat, lon]);
    else mark = L.marker([lat, lon], { icon, interactive: false, keyboard: false }).addTo(map);
    field("lon").value = lon.toFixed(7);
    field("lat").value = lat.toFixed(7);
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
    else mark = L.marker([lat, lon], { icon, interactive: false, keyboard: false }).addTo(map);
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
