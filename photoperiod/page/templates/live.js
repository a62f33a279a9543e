// The page as `watch` serves it: loaded anew when the schedule was saved; it says so when `watch` has ended.
{
  const events = new EventSource("changes");
  const ended = document.getElementById("ended");
  events.onmessage = (event) => { if (event.data !== document.documentElement.dataset.version) location.reload(); };
  events.onopen = () => { ended.hidden = true; };
  events.onerror = () => { ended.hidden = false; };
}
