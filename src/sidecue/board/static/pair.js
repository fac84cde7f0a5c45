// A screen on the network tells the code once; then it sees the board.
const told = document.getElementById("told");

function tell(text) {
  told.hidden = false;
  told.textContent = text;
}

document.getElementById("pairing").addEventListener("submit", async (event) => {
  event.preventDefault();
  const code = new FormData(event.target).get("code");
  try {
    const answer = await fetch("/pair", {
      method: "POST",
      headers: { "content-type": "application/json",
        "x-board-token": document.documentElement.dataset.token },
      body: JSON.stringify({ code }),
    });
    if (answer.ok) location.assign("/");
    else tell(await answer.text());
  } catch {
    tell("no connection");
  }
});
