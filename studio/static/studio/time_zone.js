// Proposes the time zone of this browser where none was chosen.

const select = document.querySelector("select[data-detect='time-zone']");
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;

if (select && !select.value && [...select.options].some((option) => option.value === zone)) {
  select.value = zone;
}
