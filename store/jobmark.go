package store

import (
	"context"

	"barrelbook/wear"
)

// hoursOnBench are the part's own hours on a day when its stay on an engine
// still stands, but a job under way has its cylinder off. Errors: Invalid at
// "day" where no job has.
func (h *history) hoursOnBench(ctx context.Context, q querier, day wear.Day) (wear.Hours, error) {
	refused := invalid("day", "on %s the part was on an engine: enter the work on a day when it was off", day)
	if len(h.stays) == 0 || !h.stays[len(h.stays)-1].Open() {
		return 0, refused
	}
	stay := h.stays[len(h.stays)-1]
	w, err := findWork(ctx, q, stay.Engine)
	if err != nil {
		return 0, err
	}
	for _, j := range w.Jobs {
		if j.ID != w.JobAt(stay.Position) || j.Day > day {
			continue
		}
		if !w.IsOff(stay.Position) {
			return 0, invalid("day", "the cylinder of position %d is in a job, but is not off yet: say first that it came off", stay.Position)
		}
		return h.clock.At(day, &wear.EngineHours{Engine: stay.Engine, Hours: j.Hours})
	}
	return 0, refused
}
