// Works out busy times with ical.js: takes the path of its module and, on standard input, a JSON object with the calendars and
// the last moment (UTC) to go to; answers with a JSON list of what each calendar holds. A time without a zone is given as
// the wall clock says it, and the reader of the answer puts it into a zone.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const { default: ICAL } = await import(pathToFileURL(process.argv[2]));
const asked = JSON.parse(readFileSync(0, "utf8"));
const MOST_STEPS = 20000;

const told = (time) => {
  const floating = time.isDate || time.zone === ICAL.Timezone.localTimezone;
  return floating ? { wall: time.toString() } : { utc: time.toUnixTime() };
};

const stands = (component) =>
  (component.getFirstPropertyValue("transp") ?? "OPAQUE") !== "TRANSPARENT" &&
  component.getFirstPropertyValue("status") !== "CANCELLED";

const far = (time) => time.toUnixTime() > asked.until + 3 * 86400;

const occurrences = (event) => {
  if (!event.isRecurring()) return [[event.startDate, event.endDate, event.component]];
  const found = [];
  const iterator = event.iterator();
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const next = iterator.next();
    if (!next || far(next)) break;
    const { item, startDate, endDate } = event.getOccurrenceDetails(next);
    found.push([startDate, endDate, item.component]);
  }
  return found;
};

const read = (text) => {
  const calendar = new ICAL.Component(ICAL.parse(text));
  for (const zone of calendar.getAllSubcomponents("vtimezone")) {
    ICAL.TimezoneService.register(new ICAL.Timezone(zone).tzid, new ICAL.Timezone(zone));
  }
  const events = calendar.getAllSubcomponents("vevent").map((one) => new ICAL.Event(one));
  const found = [];
  for (const event of events.filter((one) => !one.isRecurrenceException())) {
    for (const other of events) {
      if (other.isRecurrenceException() && other.uid === event.uid) event.relateException(other);
    }
    found.push(...occurrences(event).filter(([, , component]) => stands(component)));
  }
  const busy = found.map(([start, end]) => [told(start), told(end)]);
  for (const block of calendar.getAllSubcomponents("vfreebusy")) {
    for (const property of block.getAllProperties("freebusy")) {
      if (property.getParameter("fbtype") === "FREE") continue;
      busy.push(...property.getValues().map((period) => [told(period.start), told(period.getEnd())]));
    }
  }
  return busy;
};

process.stdout.write(JSON.stringify(asked.calendars.map(read)));
