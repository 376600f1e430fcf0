package rules

import (
	"fmt"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/schemas"
)

// listMeasurements lists the measurements of every flight, by group.
func listMeasurements(to io.Writer, set *detect.RuleSet) {
	listByGroup(to, set.Measurements, func(m *detect.MeasurementRule) (group string, cells []string) {
		return m.Group, []string{m.ID, m.Title, unitWord(m.Unit), "each " + string(m.Opportunity), m.Pack}
	})
}

func unitWord(unit string) string {
	if unit == "1" {
		return "count"
	}
	return unit
}

// including names the time outside of the opportunity that counts too.
func including(m *detect.MeasurementRule) string {
	return map[string]string{
		detect.IncludingBefore: "before: from the end of the previous one",
		detect.IncludingAfter:  "after: until the next one begins",
	}[m.Including]
}

// explainMeasurement writes everything that a pack says about a measurement.
func explainMeasurement(to io.Writer, m *detect.MeasurementRule) {
	fmt.Fprintf(to, "%s\n%s\n\n%s\n\n", m.ID, oneLine(m.Title), oneLine(m.Definition))
	around := ""
	if m.Around != [2]float64{} {
		around = fmt.Sprintf("from %g s to %g s about the moment", m.Around[0], m.Around[1])
	}
	for _, line := range []struct{ name, text string }{
		{"of", m.Of}, {"at", m.At}, {"from", m.From}, {"to", m.To}, {"seconds", m.Seconds}, {"count", m.Count},
		{"around", around}, {"while", m.While}, {"take", m.Take}, {"opportunity", string(m.Opportunity)}, {"including", including(m)},
		{"unit", unitWord(m.Unit)}, {"pack", m.Pack},
	} {
		if line.text != "" {
			fmt.Fprintf(to, "%-16s %s\n", line.name, oneLine(line.text))
		}
	}
}

// findMeasurement returns a measurement by its id. When there is none, it returns nil
// and suggests the nearest id.
func findMeasurement(set *detect.RuleSet, id string, say command.Messages) *detect.MeasurementRule {
	var ids []string
	for _, m := range set.Measurements {
		if m.ID == id {
			return m
		}
		ids = append(ids, m.ID)
	}
	say.Error("there is no measurement " + command.Quote(id))
	hint := schemas.Suggest(id, ids)
	if hint == "" {
		hint = "`downlock rules --measurements` lists the ids"
	}
	say.Hint(hint)
	return nil
}
