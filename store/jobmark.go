package store

import (
	"context"

	"barrelbook/wear"
)

// meterOnBench is the meter entry that tells a part's hours on a day when its
// stay on an engine still stands, but a job under way has its cylinder off: that
// of the job. Errors: Invalid at "day" where no job has.
func (h *history) meterOnBench(ctx context.Context, q querier, day wear.Day) (root int64, err error) {
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
		if _, err := h.clock.At(day, &wear.EngineHours{Engine: stay.Engine, Hours: j.Hours}); err != nil {
			return 0, invalid("day", "the job was opened at %s engine hours, and the part went on at %s: correct the hours first", j.Hours, stay.FromHours)
		}
		return j.MeterRoot, nil
	}
	return 0, refused
}
