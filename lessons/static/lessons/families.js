// Tells the server how wide the column is, so that the music is engraved for this screen, and asks once for it again when that changed.

const COOKIE = "column";

const known = () => Number((document.cookie.match(/(?:^|; )column=(\d+)/) || [])[1] || 0);
const measured = () => Math.round(document.querySelector("main").clientWidth - 2 * parseFloat(getComputedStyle(document.querySelector("main")).paddingLeft));

const keep = (width) => {
  document.cookie = `${COOKIE}=${width}; path=/; max-age=31536000; samesite=lax`;
};

let wanted = measured();
if (Math.abs(known() - wanted) > 8) {
  const before = known();
  keep(wanted);
  // Engraved for another width: fetch the page's music anew, once.
  if (before || Math.abs(wanted - 358) > 8) renew();
}

async function renew() {
  const answer = await fetch(location.href, { headers: { "X-Requested-With": "fetch" } });
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const section of document.querySelectorAll(".given")) {
    const other = fresh.getElementById(section.id);
    if (!other) continue;
    const systems = section.querySelectorAll(".system");
    systems[0]?.before(...other.querySelectorAll(".system"));
    systems.forEach((system) => system.remove());
  }
}

let waiting;
addEventListener("resize", () => {
  clearTimeout(waiting);
  waiting = setTimeout(() => {
    if (Math.abs(measured() - wanted) < 40) return;
    wanted = measured();
    keep(wanted);
    renew();
  }, 300);
});
