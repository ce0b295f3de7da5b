// The user's own position, only while the button is pressed: the depth there in large letters.

const ROUGH_M = data.plan.rough_m; // a position less exact than this says nothing of the depth
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

// What the zones and the guessed ground within reach of a position say, with every mark that their own
// words bear. From outside the field each is told with its distance, since a depth is no length.
function wordsAround(place, radiusM, zone) {
  const away = data.zones.filter((one) => one !== zone).map((one) => ({ one, m: metresFrom(place, one.areas) }));
  const others = away.filter(({ m }) => m <= radiusM).sort((a, b) => a.one.depth_cm - b.one.depth_cm);
  const wordsOf = (one) => nearWords(one, place, radiusM);
  const here = guessedAt(place);
  const guessed = guessedParts.filter((one) => !here.includes(one.part) && metresFrom(place, one.areas) <= radiusM).map(({ part }) => `GUESSED ground (${part})`);
  const from = ({ one, m }) => `${number(Math.max(1, m), 0)} m away ${one.depth_cm > 0 ? "the depth is " : ""}${wordsOf(one)}`;
  if (!zone) return [...new Set([...others.map(from), ...guessed])];
  const told = [...others.map(({ one }) => wordsOf(one)), ...guessed];
  const also = [...new Set(told)].filter((words) => words !== wordsOf(zone));
  return also.length ? [`within ${number(radiusM, 0)} m also ${also.join("; ")}`] : [];
}
function nearWords(zone, place, radiusM) {
  const pin = pinWords(zone) ? ` (${pinWords(zone)})` : "";
  const above = hazardsAbout(place, zone, radiusM).map(({ hazard }) => hazard); // told over the depth
  const off = keptOffAbout(zone, place, radiusM).filter((hazard) => !above.includes(hazard)).map((hazard) => hazard.called);
  return [`${cmOrLift(zone.depth_cm)}${pin}`, isHeld(zone) ? HELD : "", keepOff(off)].filter(Boolean).join(", ");
}
const cmOrLift = (cm) => (cm > 0 ? `${short(cm, 1)} cm` : "lift legs");
// The most that may be set on ground NOT CLEARED or beside drains, where the planned depth would mislead.
function limitHere(zone, near) {
  const limits = [...(isHeld(zone) ? [data.plan.until_cleared] : []), ...near.map(({ hazard }) => hazard.most)];
  return leastDeep(limits.filter((most) => most.depth_cm < zone.depth_cm));
}
function mostWords(most) {
  if (!(most.depth_cm > 0)) return ["LIFT"];
  const pin = pinWords(most);
  return [make("small", {}, "no deeper than"), cmOrLift(most.depth_cm), pin ? make("small", {}, `(${pin})`) : ""];
}
const textOf = (parts) => parts.map((part) => part.textContent || part).join(" ").trim();
// What is left of the planned depth at a position, and when and where the plan holds.
function leftOfPlan(place, zone, accuracy) {
  const near = hazardsAbout(place, zone, accuracy);
  const kept = near.some(({ hazard }) => isStrict(hazard)) || Boolean(zone && keepsOff(zone));
  const limit = zone && !kept ? limitHere(zone, near) : undefined;
  const beside = zone && zone.depth_cm > 0 && near.length > 0;
  const when = zone ? [isHeld(zone) ? "once services are located" : "", beside ? "beside it" : ""].filter(Boolean) : [];
  return { kept, limit, planned: when.length ? `planned ${when.join(", ")}: ` : "" };
}
// The pass under a position, as far as it is exact enough to tell it from its neighbours.
function passHere(place, accuracy) {
  const words = passWords(place);
  return words && `${accuracy > data.plan.width_m / 2 ? "about pass" : "pass"} ${words}`;
}
// What else is told of a position in the field: pass, ground without a station, edges.
function besides(place, zone, accuracy) {
  if (!zone) return inGap(place) ? [GAP_LIMIT] : [];
  return [passHere(place, accuracy), unreadAt(place) ? UNREAD : "", ...edgesNear(place, accuracy)].filter(Boolean);
}
const outsideWords = (place) => (inGap(place) ? "Gap" : "Outside");
function tellHere(place, zone, off, guessed, rest, accuracy) {
  const warned = [off, zone && isHeld(zone) ? `${HELD}: services not located` : "", guessedWords(guessed)].filter(Boolean).join(". ");
  hereOff.textContent = warned;
  hereOff.hidden = !warned;
  hereBox.classList.remove("held");
  if (tooRough(accuracy)) {
    hereDepth.textContent = "Too rough";
    hereMore.textContent = roughWords(accuracy);
    return;
  }
  const { kept, limit, planned } = leftOfPlan(place, zone, accuracy);
  hereBox.classList.toggle("held", Boolean(limit) || kept); // what is planned in thin letters
  if (kept) hereDepth.textContent = "KEEP OFF";
  else if (!zone) hereDepth.textContent = outsideWords(place);
  else if (limit) hereDepth.replaceChildren(...mostWords(limit));
  else hereDepth.replaceChildren(...(guessed.length ? [make("small", {}, "guessed")] : []), zone.depth_cm > 0 ? cmOrLift(zone.depth_cm) : "LIFT");
  const more = zone ? [planned ? planned + cmOrLift(zone.depth_cm) : "", pinWords(zone), `zone ${zone.zone}`, ASSUMED] : [kept ? outsideWords(place) : ""];
  hereMore.textContent = [...more, ...rest].filter(Boolean).join(", ");
}
// The same for who listens: what is left of the plan goes before what is planned.
function spokenHere(place, zone, rest, accuracy) {
  if (tooRough(accuracy)) return `Too rough: ${roughWords(accuracy)}.`;
  const { kept, limit, planned } = leftOfPlan(place, zone, accuracy);
  const least = limit ? textOf(mostWords(limit)) : "";
  const held = zone && isHeld(zone) ? `${HELD}: ${kept ? "services not located" : `${least} until services are located`}` : upper(least);
  const there = zone ? [held, `${upper(planned)}${zoneName(zone, "")}`].filter(Boolean).join(". ") : inGap(place) ? "Gap in the field" : "Outside the field";
  return `${[there, ...rest].join(", ")}.`;
}

function standHere({ coords }) {
  const place = [coords.latitude, coords.longitude];
  const accuracy = coords.accuracy;
  const first = hereBox.hidden;
  positionLayer.clearLayers();
  const shared = still("position", { renderer: positionRenderer, color: "#0b57d0", fillColor: "#0b57d0" });
  L.circle(place, { ...shared, radius: accuracy, weight: 2, fillOpacity: 0.15 }).addTo(positionLayer);
  L.circleMarker(place, { ...shared, radius: 9, weight: 4, color: "#fff", fillOpacity: 1 }).addTo(positionLayer);
  const zone = zoneAt(place);
  zoneHere = tooRough(accuracy) ? undefined : zone || null;
  const off = keepOffWords(place, zone, accuracy);
  const guessed = guessedAt(place);
  const around = [...besides(place, zone, accuracy), ...wordsAround(place, Math.min(accuracy, ROUGH_M), zone)];
  const words = zone || !around.length ? around : [around.join("; ")];
  tellHere(place, zone, off, guessed, words, accuracy);
  tellPlace(L.latLng(place), "Position:", !tooRough(accuracy), accuracy);
  tell(`${[off, guessedWords(guessed)].filter(Boolean).map((one) => `${one}. `).join("")}${spokenHere(place, zone, words, accuracy)} Position of this device to about ${number(accuracy, 0)} m, the legs follow behind it: a guide only, not for keeping off services.`);
  panelAfoot(first);
  if (first) showHere(true);
  if (first) map.setView(place, Math.max(map.getZoom(), 18), { animate: false });
  if (first || follows) bringIntoSight(place);
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
  const box = hereBox.getBoundingClientRect();
  const head = hereBox.hidden || box.left >= frame.right ? 0 : box.bottom - frame.top; // beside a low map it covers nothing
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
