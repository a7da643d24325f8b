/* Beside each slider stands the value it is at, as it is moved. */
"use strict";
document.addEventListener("input", (event) => {
  const says = event.target.dataset && event.target.dataset.says;
  if (says) document.getElementById(says).textContent = event.target.value;
});
