// A screen on the network tells the code once; then it sees the board.
const told = document.getElementById("told");

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
    else told.textContent = await answer.text();
  } catch {
    told.textContent = "no connection";
  }
});
