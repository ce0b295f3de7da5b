// The user's own position, only while the button is pressed: the depth there in large letters.

const ROUGH_M = 20; // a position less exact than this says nothing of the depth
const tooRough = (accuracy) => accuracy > ROUGH_M;
const roughWords = (accuracy) => `position to ${number(accuracy, 0)} m only; go by the sheet`;
const positionButton = document.getElementById("position");
const positionLayer = L.layerGroup().addTo(map);
const positionRenderer = svgIn("position");
const hereBox = document.getElementById("here");
const hereOff = document.getElementById("here-off");
const hereDepth = document.getElementById("here-depth");
const hereMore = document.getElementById("here-more");
let watch = null;
let follows = false;
let zoneHere = null; // the zone of the last position, null outside and without one, undefined where too rough

const tell = (words) => { if (told.textContent !== words) told.textContent = words; };
function endPosition(words) {
  if (watch !== null) navigator.geolocation.clearWatch(watch);
  watch = null;
  positionLayer.clearLayers();
  positionButton.setAttribute("aria-pressed", "false");
  zoneHere = null;
  showHere(false);
  markElsewhere();
  tell(words);
}
function showHere(on) {
  hereBox.hidden = !on;
  document.body.classList.toggle("located", on);
  map.invalidateSize({ animate: false });
  if (on) document.querySelector(".frame").scrollIntoView({ block: "start" });
}

// Places that the position may have as well, since it is not exact.
function placesAround([lat, lng], radiusM) {
  const found = [];
  for (const share of [0.25, 0.5, 0.75, 1]) {
    const r = radiusM * share;
    for (let i = 0; i < 12; i += 1) {
      const turn = (i * Math.PI) / 6;
      const north = (r * Math.cos(turn)) / METRES_A_DEGREE;
      const east = (r * Math.sin(turn)) / (METRES_A_DEGREE * Math.cos(radians(lat)));
      found.push([lat + north, lng + east]);
    }
  }
  return found;
}
// What the zones and the guessed ground about a position say, with every mark that their own words bear.
function wordsAround(place, radiusM, zone) {
  const places = placesAround(place, radiusM);
  const others = [...new Set(places.map(zoneAt))].filter((one) => one && one !== zone).sort((a, b) => a.depth_cm - b.depth_cm);
  const wordsOf = (one) => nearWords(one, place, radiusM);
  const here = zone ? wordsOf(zone) : "";
  const guessed = [...new Set(places.flatMap(guessedAt))].filter((part) => !guessedAt(place).includes(part));
  const told = [...others.map(wordsOf), ...guessed.map((part) => `GUESSED ground (${part})`)];
  return [...new Set(told)].filter((words) => words !== here);
}
function nearWords(zone, place, radiusM) {
  const pin = pinWords(zone) ? ` (${pinWords(zone)})` : "";
  return [`${cmOrLift(zone.depth_cm)}${pin}`, isHeld(zone) ? HELD : "", keepOffNear(zone, place, radiusM)].filter(Boolean).join(", ");
}
const cmOrLift = (cm) => (cm > 0 ? `${short(cm, 1)} cm` : "lift legs");
// The most that may be set on ground NOT CLEARED, where the planned depth would mislead.
function mostHere() {
  const most = data.plan.until_cleared;
  if (!(most.depth_cm > 0)) return ["LIFT"];
  const pin = pinWords(most);
  return [make("small", {}, "no deeper than"), cmOrLift(most.depth_cm), pin ? make("small", {}, `(${pin})`) : ""];
}
// The pass under a position, as far as it is exact enough to tell it from its neighbours.
function passHere(place, accuracy) {
  const words = passWords(place);
  return words && `${accuracy > data.plan.width_m / 2 ? "about pass" : "pass"} ${words}`;
}
// What else is told of a position in the field: pass, ground without a station, edges.
function besides(place, zone, accuracy) {
  if (!zone) return inGap(place) ? [GAP] : [];
  return [passHere(place, accuracy), unreadAt(place) ? UNREAD : "", ...edgesNear(place, accuracy)].filter(Boolean);
}
function tellHere(zone, off, guessed, around, beside, accuracy) {
  const warned = [off, zone && isHeld(zone) ? `${HELD}: services not located` : "", guessedWords(guessed)].filter(Boolean).join(". ");
  hereOff.textContent = warned;
  hereOff.hidden = !warned;
  if (tooRough(accuracy)) {
    hereDepth.textContent = "Too rough";
    hereMore.textContent = roughWords(accuracy);
    return;
  }
  const kept = zone && (keepsOff(zone) || off.startsWith("KEEP OFF"));
  const held = zone && !kept && isHeld(zone);
  hereBox.classList.toggle("held", Boolean(held));
  if (held) hereDepth.replaceChildren(...mostHere());
  else if (!zone) hereDepth.textContent = "Outside";
  else if (kept) hereDepth.textContent = "KEEP OFF";
  else hereDepth.replaceChildren(...(guessed.length ? [make("small", {}, "guessed")] : []), zone.depth_cm > 0 ? cmOrLift(zone.depth_cm) : "LIFT");
  const planned = held ? `planned once services are located: ${cmOrLift(zone.depth_cm)}` : "";
  const more = zone ? [planned, kept ? "" : pinWords(zone), `zone ${zone.zone}`, ASSUMED] : [];
  more.push(...beside);
  if (around.length) more.push(`within ${number(accuracy, 0)} m ${zone ? "also " : ""}${around.join("; ")}`);
  hereMore.textContent = more.filter(Boolean).join(", ");
}

function standHere({ coords }) {
  const place = [coords.latitude, coords.longitude];
  const first = hereBox.hidden;
  positionLayer.clearLayers();
  const shared = still("position", { renderer: positionRenderer, color: "#0b57d0", fillColor: "#0b57d0" });
  L.circle(place, { ...shared, radius: coords.accuracy, weight: 2, fillOpacity: 0.15 }).addTo(positionLayer);
  L.circleMarker(place, { ...shared, radius: 9, weight: 4, color: "#fff", fillOpacity: 1 }).addTo(positionLayer);
  const zone = zoneAt(place);
  zoneHere = tooRough(coords.accuracy) ? undefined : zone || null;
  const most = mostHere().map((part) => part.textContent || part).join(" ").trim();
  const there = zone ? `${isHeld(zone) ? `${HELD}: ${most} until services are located. Planned: ` : ""}${zoneName(zone, "")}` : "Outside the field";
  const beside = besides(place, zone, coords.accuracy);
  const here = tooRough(coords.accuracy) ? `Too rough: ${roughWords(coords.accuracy)}.` : `${[there, ...beside].join(", ")}.`;
  const off = keepOffWords(place, zone, coords.accuracy);
  const guessed = guessedAt(place);
  tellHere(zone, off, guessed, wordsAround(place, Math.min(coords.accuracy, ROUGH_M), zone), beside, coords.accuracy);
  tellPlace(L.latLng(place), "Position:", !tooRough(coords.accuracy));
  tell(`${[off, guessedWords(guessed)].filter(Boolean).map((words) => `${words}. `).join("")}${here} Position of this device to about ${number(coords.accuracy, 0)} m, the legs follow behind it: a guide only, not for keeping off services.`);
  panelAfoot(first);
  if (first) showHere(true);
  if (first) map.setView(place, Math.max(map.getZoom(), 18), { animate: false });
  else if (follows) bringIntoSight(place);
}
// An opened panel tells of ground elsewhere: it goes when the position moves on, and until then it
// says that it is not of the ground under the machine.
function panelAfoot(first) {
  if (first || (!panel.hidden && zoneHere !== undefined && openedWith !== zoneHere)) closeDetail();
  markElsewhere();
}
// The map moves under the position where the panel, the box of the depth or its edge would hide it.
function bringIntoSight(place) {
  const frame = document.getElementById("map").getBoundingClientRect();
  const covered = !panel.hidden && window.innerWidth < 1000;
  const foot = (covered ? Math.min(frame.bottom, panel.getBoundingClientRect().top) : frame.bottom) - frame.top;
  const head = hereBox.hidden ? 0 : hereBox.getBoundingClientRect().bottom - frame.top;
  const at = map.latLngToContainerPoint(place);
  const edge = covered ? 20 : 0.12 * (foot - head);
  const within = at.x > 0.2 * frame.width && at.x < 0.8 * frame.width && at.y > head + edge && at.y < foot - edge;
  if (!within) map.panBy([at.x - frame.width / 2, at.y - (head + foot) / 2], { animate: false });
}
// A lost position may come back, a refused one does not.
function noPosition(fault) {
  const disk = location.protocol === "file:" ? " Some browsers give no position to a page opened from disk: open it in another browser, or through the web." : "";
  if (fault.code === 1) { endPosition(`This browser refused the position.${disk}`); return; }
  const found = positionLayer.getLayers().length > 0 || !hereBox.hidden;
  positionLayer.clearLayers();
  hereDepth.textContent = "No position";
  hereMore.textContent = "still looking; go by the sheet";
  hereOff.hidden = true;
  const why = fault.code === 3 ? "No position was found in time." : "This device gives no position.";
  tell(`${why} Still looking.${found ? "" : disk}`);
}
function togglePosition() {
  if (watch !== null) { endPosition(""); return; }
  if (!navigator.geolocation) { endPosition("This device gives no position."); return; }
  positionButton.setAttribute("aria-pressed", "true");
  follows = true;
  tell("Looking for the position …");
  watch = navigator.geolocation.watchPosition(standHere, noPosition, { enableHighAccuracy: true, timeout: 20000, maximumAge: 2000 });
}
map.on("dragstart", () => { follows = false; });
