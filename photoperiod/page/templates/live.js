// The page as `watch` serves it: loaded anew when the schedule was saved.
{
  const events = new EventSource("changes");
  events.onmessage = (event) => { if (event.data !== document.documentElement.dataset.version) location.reload(); };
}
