package server

import (
	"context"
	"errors"
	"fmt"
	"time"

	"barrelbook/store"
	"barrelbook/views"
)

// clocksAgree is how far two clocks may stand apart before it is mentioned.
const clocksAgree = 2 * time.Minute

// addReceipt says which tablet a sheet waited on, who entered it there and who
// delivered it, and when it came; of a sheet that was sent straight away at most who
// sent it. Whoever did the work by the sheet is not named again.
func (s *Server) addReceipt(ctx context.Context, facts []views.Fact, uid, worker string) ([]views.Fact, error) {
	r, err := s.book.Receipt(ctx, uid)
	if errors.Is(err, store.ErrNotFound) {
		return facts, nil
	}
	if err != nil {
		return nil, err
	}
	other := r.Person != "" && r.Person != worker
	if r.DeviceTime == "" {
		if other {
			facts = append(facts, views.Fact{Label: "Entered by", Value: r.Person})
		}
		return facts, nil
	}
	device := r.Device
	if device == "" {
		device = "a device without a name"
	}
	facts = append(facts, views.Fact{Label: "Filled in on", Value: device + ", " + when(r.DeviceTime) + " by its clock"}, views.Fact{Label: "Received", Value: when(r.ReceivedAt)})
	if r.TypedBy != "" && r.TypedBy != worker {
		facts = append(facts, views.Fact{Label: "Entered by", Value: r.TypedBy})
	}
	if other || r.TypedBy != "" && r.TypedBy != r.Person {
		facts = append(facts, views.Fact{Label: "Delivered by", Value: r.Person})
	}
	if t := skewText(r.Skew); t != "" {
		facts = append(facts, views.Fact{Label: "Clock of that device", Value: t})
	}
	return facts, nil
}

// skewText says how far a tablet's clock was out when it delivered; "" where
// it agreed, or told no time.
func skewText(seconds *int) string {
	if seconds == nil {
		return ""
	}
	d, way := time.Duration(*seconds)*time.Second, "ahead of"
	if d < 0 {
		d, way = -d, "behind"
	}
	if d <= clocksAgree {
		return ""
	}
	how := fmt.Sprintf("%d min", int(d.Minutes()))
	switch {
	case d >= 48*time.Hour:
		how = fmt.Sprintf("%d days", int(d.Hours()/24))
	case d >= 2*time.Hour:
		how = fmt.Sprintf("%d h", int(d.Hours()))
	}
	return how + " " + way + " this laptop's"
}
