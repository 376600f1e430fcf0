package detect

import "downlock/detect/readings"

// oneMovement (s) is how long a handle may rest at a detent it passes: common
// practice.
const oneMovement = 3.0

// movements are the moments at which a held number begins to move in a direction: a
// handle that passes through detents makes one movement, not one a detent.
func movements(h *readings.HeldNumber, d readings.Direction, windows readings.Spans) ([]readings.Moment, readings.Spans) {
	if d == readings.Changes {
		up, unknown := movements(h, readings.Increases, windows)
		down, _ := movements(h, readings.Decreases, windows)
		return readings.Either(up, down), unknown
	}
	steps, unknown := readings.Steps(h.Held, d, windows)
	rest := max(oneMovement, 1.5*h.Interval)
	var out []readings.Moment
	last := 0.0
	for i, m := range steps {
		if i == 0 || m.Nominal-last > rest {
			out = append(out, m)
		}
		last = m.Nominal
	}
	return out, unknown
}
