package schemas

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
)

// The columns of every table, written here a second time by hand. Whoever adds a
// column adds it at the end, optional, and raises the table's version. No other
// change is allowed to a table that archives hold.
var tableColumns = map[string]string{
	FlightsTable + " 1": `recording recording_name flight_id number aircraft profile_sha256 packs.list.element version
		start_utc? start_s end_s begins_in_air ends_in_air
		lift_off_utc? lift_off_s? lift_off_earliest_s? lift_off_latest_s? touchdown_utc? touchdown_s? touchdown_earliest_s? touchdown_latest_s?
		approaches go_arounds touch_and_goes`,
	FlightsTable + " 2": `... registration?`,
	FlightsTable + " 3": `... departure_aerodrome? arrival_aerodrome?`,
	FlightsTable + " 4": `... take_off_rolls? rejected_take_offs? lift_offs? gear_retractions? gear_extensions? touchdowns? landings? balked_landings? stays_on_ground?`,
	EventsTable + " 1": `recording flight_id event_id rule title rule_group severity certainty phase moment
		start_utc? start_s start_earliest_s start_latest_s end_utc? end_s end_earliest_s end_latest_s
		measures.list.element.name measures.list.element.unit measures.list.element.value?`,
	EventsTable + " 2":      `... occurrence_id?`,
	EvaluationsTable + " 1": `recording flight_id rule coverage events scope_seconds unknown_seconds missing.list.element fallbacks.list.element`,
	EvaluationsTable + " 2": `... opportunity? opportunities? opportunities_evaluated? opportunities_partly? opportunities_not? opportunities_known?`,
	MeasurementsTable + " 1": `recording flight_id measurement unit outcome certainty coverage value? lowest? highest?
		at_utc? at_s? unknown_seconds missing.list.element fallbacks.list.element`,
	MeasurementsTable + " 2": `... opportunity? opportunity_number? opportunity_begins_s? opportunity_ends_s?`,
	AuditsTable + " 1": `recording flight_id warning coverage due sounded due_seconds sounded_seconds agreement_seconds unknown_seconds
		missed late nuisance silenced wrongly_silenced switch_uses missing.list.element`,
	VerdictsTable + " 1": `event_id month verdict cause comment by at_utc latest outdated gone`,
	VerdictsTable + " 2": `... occurrence_id?`,
	VerdictsTable + " 3": `... file? evidence?`,
	ActionsTable + " 1":  `event_id month action value by at_utc latest gone occurrence_id? file`,
}

// columnsOf lists the columns of a version. A version that begins with ... extends
// the one before, and only by optional columns.
func columnsOf(table string, version int) []string {
	columns := strings.Fields(tableColumns[fmt.Sprintf("%s %d", table, version)])
	if len(columns) == 0 || columns[0] != "..." {
		return columns
	}
	for _, added := range columns[1:] {
		if !strings.HasSuffix(added, "?") {
			return []string{added + " is added and not optional"}
		}
	}
	return append(columnsOf(table, version-1), columns[1:]...)
}

func TestTableColumns(t *testing.T) {
	t.Parallel()
	for name, schema := range map[string]*parquet.Schema{
		FlightsTable: parquet.SchemaOf(FlightRow{}), EventsTable: parquet.SchemaOf(EventRow{}), EvaluationsTable: parquet.SchemaOf(EvaluationRow{}),
		MeasurementsTable: parquet.SchemaOf(MeasurementRow{}), AuditsTable: parquet.SchemaOf(AuditRow{}),
		VerdictsTable: parquet.SchemaOf(VerdictRow{}), ActionsTable: parquet.SchemaOf(ActionRow{}),
	} {
		version := TableVersions[name]
		switch name {
		case VerdictsTable:
			version = VerdictsVersion
		case ActionsTable:
			version = ActionsVersion
		}
		var got []string
		for _, path := range schema.Columns() {
			column := strings.Join(path, ".")
			if leaf, ok := schema.Lookup(path...); ok && leaf.Node.Optional() {
				column += "?"
			}
			got = append(got, column)
		}
		if diff := cmp.Diff(columnsOf(name, version), got); diff != "" {
			t.Errorf("%s %d: %s", name, version, diff)
		}
	}
}
