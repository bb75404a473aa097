// Text sizes for reading from a distance. Rule: capital letters of 16 minutes of arc at least, 20 to 22 for what is
// read in sentences; height = 6.283 * distance * minutes / 21600 (U.S. NRC, NUREG-0700 rev. 2, guideline 1.3.1-4; the
// same angles stand in ISO 9241-3; both quoted from memory). The screen's diagonal turns millimetres into pixels.
"use strict";
const CAPITAL = 0.668; // height of a capital of Atkinson Hyperlegible, in em
const ARC = { small: 16, large: 20 };

function sizes() {
  const asked = new URLSearchParams(location.search);
  const body = document.body.dataset;
  const diagonal = Math.hypot(screen.width, screen.height);
  const usual = Math.min(screen.width, screen.height) >= 1000 ? 24 : 11; // inches: a monitor, or a tablet
  const inches = Number(asked.get("screen")) || Number(body.inches) || usual;
  const metres = Number(asked.get("distance")) || Number(body.distance) || 2;
  const pixels = diagonal / (inches * 25.4); // a millimetre
  for (const [name, minutes] of Object.entries(ARC)) {
    const height = (6.283 * metres * 1000 * minutes) / 21600;
    document.documentElement.style.setProperty(`--${name}`, `${((height * pixels) / CAPITAL).toFixed(1)}px`);
  }
}
sizes();
addEventListener("resize", sizes);
