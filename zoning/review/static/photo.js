"use strict";
// A photo that is too large is told before it is sent.

for (const box of document.querySelectorAll('input[type="file"][data-most]')) {
  box.addEventListener("change", () => {
    const [photo] = box.files;
    const most = Number(box.dataset.most);
    const large = photo !== undefined && photo.size > most;
    document.getElementById("photo-told").textContent = large
      ? `This photo has ${(photo.size / 1e6).toFixed(1)} MB; ${(most / 1e6).toFixed(0)} MB at most. Choose a smaller picture size.`
      : "";
    if (large) box.value = "";
  });
}
