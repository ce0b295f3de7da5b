// Puts the parts together and listens.

layChoices();
for (const one of OVERLAYS) if (one.on && one.count !== 0) showOverlay(one.name, true);
showGround("depth");
reachZonesByKey();
data.surfaces.forEach(readSurface);

const coordinates = document.getElementById("coordinates");
const under = document.getElementById("under");
function tellPlace(latlng, what, exact = true, aboutM = null) {
  coordinates.textContent = `${what} latitude ${latlng.lat.toFixed(6)}, longitude ${latlng.lng.toFixed(6)} (WGS 84)`;
  const place = [latlng.lat, latlng.lng];
  const zone = zoneAt(place);
  const surface = data.surfaces.find((one) => one.name === ground);
  const off = keepOffWords(place, zone, aboutM);
  if (!exact) { under.replaceChildren(off ? `${off}. ` : ""); return; }
  const seen = surface ? surfaceWords(surface, latlng) : "";
  const setting = zone ? [`Zone ${zone.zone}: ${setWords(zone, "")} `, ...(isHeld(zone) ? [heldMark(), " "] : [])] : [];
  const guessed = guessedAt(place).length ? [make("strong", { class: "mark" }, "GUESSED"), " "] : [];
  const far = unreadAt(place) ? [make("strong", { class: "mark light" }, FAR), " "] : [];
  under.replaceChildren(off ? `${off}. ` : "", inGap(place) ? `Gap, ${GAP}. ` : "", ...setting, ...guessed, ...far, seen);
}
const mapBox = document.getElementById("map");
map.on("mousemove", (event) => tellPlace(event.latlng, "Pointer:"));
map.on("click", (event) => {
  tellPlace(event.latlng, "Pressed:");
  if (corners) addCorner(event.latlng); else press(event);
});
map.on("moveend zoomend resize", layLabels);
map.on("zoomend", sharpenDots);
map.on("zoomend resize", () => { if (shown.has("passes")) layPasses(); });
map.on("moveend", () => { if (document.activeElement === mapBox) tellPlace(map.getCenter(), "Middle of the map:"); });
mapBox.addEventListener("focus", () => { cross.hidden = !mapBox.matches(":focus-visible"); tellPlace(map.getCenter(), "Middle of the map:"); });
mapBox.addEventListener("blur", () => { cross.hidden = true; });
mapBox.addEventListener("keydown", (event) => {
  if (event.target !== mapBox) return;
  if (event.key === "Backspace" && corners) undoCorner();
  else if (event.key === "Enter" && corners) addCorner(map.getCenter());
  else if (event.key === "Enter") press({ latlng: map.getCenter() });
  else return;
  event.preventDefault();
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  const list = document.querySelector(".warn details");
  if (!panel.hidden) closeDetail();
  else if (list.open) { list.open = false; list.querySelector("summary").focus(); }
  else if (corners) measuring(false);
});
document.getElementById("close").addEventListener("click", closeDetail);
document.getElementById("whole").addEventListener("click", () => map.fitBounds(field, { padding: [14, 14], animate: false }));
measureButton.addEventListener("click", () => measuring(!corners));
undoButton.addEventListener("click", undoCorner);
positionButton.addEventListener("click", togglePosition);
document.getElementById("here-stop").addEventListener("click", () => { endPosition(""); positionButton.focus(); });
document.getElementById("print").addEventListener("click", () => window.print());
for (const button of document.querySelectorAll(".views button[data-view]")) button.addEventListener("click", () => showView(button.dataset.view));

// What stays at the head of the window, however many lines it has, leaves the buttons free.
const headOf = (query, name, spare) => {
  const box = document.querySelector(query);
  const tellHeight = () => document.documentElement.style.setProperty(name, `${Math.ceil(box.getBoundingClientRect().height) + spare}px`);
  new ResizeObserver(tellHeight).observe(box);
  tellHeight();
};
headOf(".warn summary", "--warn-height", 4); // with its borders
headOf(".bar", "--bar-height", 0);

requestAnimationFrame(() => setTimeout(() => { document.documentElement.dataset.ready = "yes"; }, 0));
