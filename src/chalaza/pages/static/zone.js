// The zone of the device in hand: put in where the computer that keeps the notebook does not know its own.
const field = document.querySelector("[data-zone]");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (field && here) {
  const said = document.querySelector("[data-zone-device]");
  if (!field.value) {
    field.value = here;
    if (said) said.hidden = false;
  }
}
