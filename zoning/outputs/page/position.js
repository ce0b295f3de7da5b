// The user's own position, only while the button is pressed.

const positionButton = document.getElementById("position");
const positionLayer = L.layerGroup().addTo(map);
const positionRenderer = svgIn("position");
let watch = null;

function endPosition(words) {
  if (watch !== null) navigator.geolocation.clearWatch(watch);
  watch = null;
  positionLayer.clearLayers();
  positionButton.setAttribute("aria-pressed", "false");
  told.textContent = words;
}
function standHere({ coords }) {
  const place = [coords.latitude, coords.longitude];
  const first = positionLayer.getLayers().length === 0;
  positionLayer.clearLayers();
  const shared = still("position", { renderer: positionRenderer, color: "#0b57d0", fillColor: "#0b57d0" });
  L.circle(place, { ...shared, radius: coords.accuracy, weight: 2, fillOpacity: 0.15 }).addTo(positionLayer);
  L.circleMarker(place, { ...shared, radius: 9, weight: 4, color: "#fff", fillOpacity: 1 }).addTo(positionLayer);
  const zone = zoneAt(place);
  const here = zone ? `${zoneName(zone)}.` : "Outside the field.";
  const off = keepOffWords(place);
  told.textContent = `${off ? `${off}. ` : ""}${here} Position to about ${number(coords.accuracy, 0)} m: a guide only, not for keeping off services.`;
  if (first) map.setView(place, Math.max(map.getZoom(), 17), { animate: false });
}
function noPosition(fault) {
  const disk = location.protocol === "file:" ? " Some browsers give no position to a page opened from disk: open it in another browser, or through the web." : "";
  const why = fault.code === 1 ? "This browser refused the position." : fault.code === 3 ? "No position was found in time." : "This device gives no position.";
  endPosition(why + disk);
}
function togglePosition() {
  if (watch !== null) { endPosition(""); return; }
  if (!navigator.geolocation) { noPosition({ code: 2 }); return; }
  positionButton.setAttribute("aria-pressed", "true");
  told.textContent = "Looking for the position …";
  watch = navigator.geolocation.watchPosition(standHere, noPosition, { enableHighAccuracy: true, timeout: 20000, maximumAge: 5000 });
}
