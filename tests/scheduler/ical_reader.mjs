// Reads calendars with ical.js: takes the path of its module and, on standard input, a JSON list of calendars; answers with a
// JSON list of what each holds.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const { default: ICAL } = await import(pathToFileURL(process.argv[2]));

const seen = (component) => {
  const event = new ICAL.Event(component);
  return {
    uid: event.uid,
    start: event.startDate.toJSDate().toISOString(),
    end: event.endDate.toJSDate().toISOString(),
    summary: event.summary,
    description: event.description,
    location: event.location,
    sequence: event.sequence,
    status: component.getFirstPropertyValue("status"),
  };
};

const read = (text) => {
  const calendar = new ICAL.Component(ICAL.parse(text));
  return {
    name: calendar.getFirstPropertyValue("x-wr-calname"),
    refresh: String(calendar.getFirstPropertyValue("refresh-interval")),
    events: calendar.getAllSubcomponents("vevent").map(seen),
  };
};

process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(read)));
