package detect

import (
	"strings"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// wholeFlight stands until 20 s, taxies at 10 kt, rolls from 60 s, lifts off at 80 s, climbs by
// 50 ft/s to 3000 ft, comes down by 30 ft/s from 400 s, touches down at 500 s and slows to a
// taxi until 540 s.
func wholeFlight(more ...*ingest.Series) *Flight {
	f := flightOf(600, append(more,
		along("ground_speed", 600, straight(20, 0, 21, 10, 60, 10, 80, 150, 500, 150, 540, 10)),
		along("pressure_altitude", 600, straight(80, 0, 140, 3000, 400, 3000, 500, 0)))...)
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 600)}}
	f.air = []stay{stayOf(80, 500)}
	f.touchdowns = []readings.Moment{sure(500)}
	f.Approaches = []Approach{{stretch(400, 500), exactly(400), exactly(500), EndsInLanding}}
	return f
}

func phasesOf(f *Flight) (names []Phase, begins []float64) {
	f.findPhases(f.air)
	for _, p := range f.Phases {
		names, begins = append(names, p.Phase), append(begins, hundredths(p.Span.Start))
	}
	return names, begins
}

// The speed passes 1 kt a tenth of a second after 20 s, 40 kt 30/140 of 20 s after 60 s, and
// again 110/140 of 40 s after 500 s; the height passes 35 and 1000 ft 0.7 and 20 s after 80 s,
// and 50 ft 50/30 s before 500 s.
func TestPhasesByHand(t *testing.T) {
	t.Parallel()
	names, begins := phasesOf(wholeFlight())
	alike(t, "phases", names, []Phase{Standing, Taxi, TakeOff, InitialClimb, EnRoute, ApproachPhase, Landing, Taxi})
	alike(t, "begin", begins, []float64{0, 20.1, 64.29, 80.7, 100, 400, 498.33, 531.43})
	// The gear comes up before 35 ft are passed: the climb begins then.
	lever := append(repeated(80, 2), repeated(521, 0)...)
	f := wholeFlight(seconds("gear_lever", lever...))
	f.findPhases(f.air)
	alike(t, "gear first", []any{f.Phases[3].Phase, f.Phases[3].Span.Start}, []any{InitialClimb, 80.0})
	// A rejected take-off before: from 30 to 40 s.
	f = wholeFlight()
	f.Rolls = []TakeOffRoll{{Begins: exactly(30), Ends: exactly(40), Ended: Rejected}, {Begins: exactly(62), Ends: exactly(80), Ended: InLiftOff}}
	names, begins = phasesOf(f)
	alike(t, "rejected", names[:5], []Phase{Standing, Taxi, TakeOff, Taxi, TakeOff})
	alike(t, "rejected", begins[:5], []float64{0, 20.1, 30, 40, 62})
	// A go-around from 450 s that ends at 470 s is en route again, until the next approach.
	f = wholeFlight()
	f.GoArounds = []GoAround{{Begins: exactly(450), Lowest: exactly(455), Ends: exactly(470)}}
	f.Approaches = []Approach{{stretch(400, 450), exactly(400), exactly(450), EndsInGoAround}, {stretch(480, 500), exactly(480), exactly(500), EndsInLanding}}
	names, begins = phasesOf(f)
	alike(t, "go-around", names[4:], []Phase{EnRoute, ApproachPhase, EnRoute, ApproachPhase, Landing, Taxi})
	alike(t, "go-around", begins[4:], []float64{100, 400, 470, 480, 498.33, 531.43})
	// It begins and ends in the air.
	f = wholeFlight()
	f.Span, f.air, f.BeginsInAir = stretch(80, 450), []stay{stayOf(80, 450)}, true
	f.Approaches = []Approach{{stretch(400, 450), exactly(400), exactly(450), EndsWithFlight}}
	names, begins = phasesOf(f)
	alike(t, "in the air", names, []Phase{EnRoute, ApproachPhase})
	alike(t, "in the air", begins, []float64{80, 400})
	// The last phase lasts until the recording ends, however the stay in the air or a go-around may end before.
	f = wholeFlight()
	f.Span, f.air, f.touchdowns = stretch(0, 450), []stay{stayOf(80, 200), {exactly(210), Time{450, 449, 450}}}, []readings.Moment{sure(200)}
	f.Approaches, f.GoArounds = nil, []GoAround{{Begins: exactly(420), Lowest: exactly(425), Ends: Time{450, 430, 450}}}
	f.findPhases(f.air)
	alike(t, "the end", f.Phases[len(f.Phases)-1].Ends, exactly(450))
	// Two stays in the air, a touch-and-go between.
	f = wholeFlight()
	f.air = []stay{stayOf(80, 200), stayOf(210, 500)}
	f.Rolls = []TakeOffRoll{{Begins: exactly(62), Ends: exactly(80)}, {Begins: exactly(204), Ends: exactly(210), FromTouchdown: true}}
	names, _ = phasesOf(f)
	alike(t, "touch-and-go", names[:7], []Phase{Standing, Taxi, TakeOff, InitialClimb, EnRoute, Landing, TakeOff})
	f.Rolls[0] = TakeOffRoll{Begins: Time{80, 0, 80}, Ends: exactly(80)}
	names, begins = phasesOf(f)
	alike(t, "touch-and-go after an unknown roll", []any{names[6], begins[6]}, []any{TakeOff, 204.0})
	f.Rolls = []TakeOffRoll{{Begins: exactly(200), Ends: exactly(210), FromTouchdown: true}}
	names, begins = phasesOf(f)
	alike(t, "thrust from the touchdown on", names[4:6], []Phase{EnRoute, TakeOff})
	alike(t, "thrust from the touchdown on", begins[5], 200.0)
	// The recording begins as it brakes from 60 kt: a taxi until the roll, since it has not landed.
	f = wholeFlight()
	braked := flightOf(600, along("ground_speed", 600, straight(5, 60, 15, 10, 60, 10, 80, 150, 500, 150, 540, 10)))
	braked.air, braked.touchdowns = f.air, f.touchdowns
	names, begins = phasesOf(braked)
	alike(t, "braking at first", names, []Phase{Taxi, TakeOff, Landing, Taxi})
	alike(t, "braking at first", begins, []float64{0, 64.29, 500, 531.43})
	// The recording ends at 520 s, at 80 kt in the roll of the landing: no taxi, and no take-off.
	f = wholeFlight()
	f.Span = stretch(0, 520)
	names, begins = phasesOf(f)
	alike(t, "cut off in the roll", names[4:], []Phase{EnRoute, ApproachPhase, Landing})
	alike(t, "cut off in the roll", begins[6], 498.33)
	// The begin of a roll that only the lift-off shows is not one of the take-off, which has the bounds of the speed or of the lift-off.
	f = flightOf(600)
	f.air, f.Rolls = []stay{{Time{80, 79, 81}, exactly(500)}}, []TakeOffRoll{{Begins: Time{80, 0, 81}, Ends: Time{80, 79, 81}}}
	f.findPhases(f.air)
	alike(t, "an unknown roll", f.Phases[1].Begins, Time{80, 79, 81})
	// Never as fast as 40 kt: the take-off begins with the lift-off, and the taxi with the touchdown.
	glider := flightOf(600, along("ground_speed", 600, straight(0, 30)))
	glider.air, glider.touchdowns = f.air, f.touchdowns
	names, begins = phasesOf(glider)
	alike(t, "never fast", names, []Phase{Taxi, TakeOff, Taxi})
	alike(t, "never fast", begins, []float64{0, 80, 500})
	// No speed: the roll of the landing cannot be told from the taxi.
	f = flightOf(600)
	f.air, f.touchdowns = []stay{stayOf(80, 500)}, []readings.Moment{sure(500)}
	names, begins = phasesOf(f)
	alike(t, "no speed", names, []Phase{Taxi, TakeOff, Taxi})
	alike(t, "no speed", begins, []float64{0, 80, 500})
}

// Opportunities of that flight, by kind and then by time.
func TestOpportunitiesByHand(t *testing.T) {
	t.Parallel()
	f := wholeFlight(seconds("gear_lever", append(repeated(90, 2), append(repeated(320, 0), repeated(191, 2)...)...)...))
	f.airborne = readings.Condition{Certain: during(80, 500), True: during(80, 500), False: during(0, 80, 500, 600), Possible: during(80, 500)}
	f.Rolls = []TakeOffRoll{{Begins: exactly(62), Ends: exactly(80), Ended: InLiftOff}, {Begins: exactly(30), Ends: exactly(40), Ended: Rejected}}
	f.Touchdowns = []Touchdown{{exactly(500), FullStop, false}}
	f.GoArounds = []GoAround{{Begins: exactly(420), Lowest: exactly(425), Ends: exactly(430)}}
	env := newTracks(f, nil)
	type found struct {
		Kind         OpportunityKind
		Begins, Ends float64
		Ended        string
	}
	var got []found
	for _, o := range opportunities(env) {
		got = append(got, found{o.Kind, o.Begins.Nominal, o.Ends.Nominal, o.Ended})
	}
	alike(t, "opportunities", got, []found{
		{OpenFlight, 0, 600, ""}, {OpenTakeOffRoll, 30, 40, "rejected"}, {OpenTakeOffRoll, 62, 80, "lift-off"}, {OpenLiftOff, 0, 100, ""},
		{OpenRetraction, 90, 410, ""}, {OpenExtension, 410, 600, ""}, {OpenApproach, 400, 500, "landing"}, {OpenGoAround, 420, 430, ""},
		{OpenTouchdown, 400, 510, "landing"}, {OpenLanding, 400, 510, ""}, {OpenAir, 80, 500, ""}, {OpenGround, 0, 80, ""}, {OpenGround, 500, 600, ""},
	})
	for kind, want := range map[OpportunityKind]bool{OpenRetraction: true, OpenExtension: true, OpenApproach: true, OpenFlight: true, OpenTouchdown: true} {
		alike(t, string(kind), env.tells(kind), want)
	}
	none := flightOf(600)
	none.airborne = f.airborne
	for kind, want := range map[OpportunityKind]bool{OpenRetraction: false, OpenExtension: false, OpenApproach: false, OpenGoAround: false, OpenFlight: true, OpenTouchdown: true} {
		alike(t, string(kind)+", nothing recorded", newTracks(none, nil).tells(kind), want)
	}
	// The legs lock up as the lever goes there, and again ten seconds later.
	locks := flightOf(600, seconds("gear_lever", append(repeated(90, 2), repeated(511, 0)...)...), seconds("gear_up_locked", repeated(90, 0, 5, 1, 5, 0, 501, 1)...))
	locks.airborne, locks.Profile.Legs = f.airborne, []string{"nose", "left", "right"}
	alike(t, "locked at once", nominals(newTracks(locks, nil).selections("UP", "gear_up_locked")), []float64{90, 90})
	partly := flightOf(600, seconds("gear_lever", repeated(300, 2)...)) // not until the landing
	partly.airborne = f.airborne
	alike(t, "lever partly recorded", newTracks(partly, nil).tells(OpenExtension), false)
	_, fallbacks := heightNeeds(env)
	alike(t, "no radio altitude", len(fallbacks), 1)
	missing, _ := heightNeeds(newTracks(none, nil))
	alike(t, "no altitude", len(missing), 2)
	radio := newTracks(flightOf(9, along("radio_altitude", 9, straight(0, 0))), nil)
	missing, fallbacks = heightNeeds(radio)
	alike(t, "radio altitude alone", []int{len(missing), len(fallbacks)}, []int{0, 0})
	alike(t, "ground stays", nominals([]stay{f.groundStays(f.air)[0].stay, f.groundStays(f.air)[1].stay}), []float64{0, 80, 500, 600})
	alike(t, "after a touchdown, before a stay in the air", []bool{f.groundStays(f.air)[0].landed, f.groundStays(f.air)[1].landed, f.groundStays(f.air)[0].flies, f.groundStays(f.air)[1].flies}, []bool{false, true, true, false})
	two := []stay{stayOf(80, 200), stayOf(210, 500)}
	alike(t, "between two stays in the air", f.groundStays(two)[1].landed, true)
	alike(t, "from the start of the recording", nominals([]stay{f.groundStays([]stay{stayOf(0, 500)})[0].stay}), []float64{500, 600})
	alike(t, "to the end of the recording", len(f.groundStays([]stay{stayOf(80, 600)})), 1)
	f.liftOffs = []readings.Moment{moment(80, 79, 81, true), sure(210)}
	alike(t, "lift-offs", f.LiftOffs(), []Time{{80, 79, 81}, exactly(210)})
	alike(t, "lowest points", f.LowestPoints(), []Time{exactly(425)})
	alike(t, "landings", [][]Time{f.TouchedDown(FullStop), f.TouchedDown(TouchAndGo)}, [][]Time{{exactly(500)}, nil})
}

// Rolls of a flight by its thrust, or by its speed; a lift-off without a roll found has one.
func TestFindRollsByHand(t *testing.T) {
	t.Parallel()
	f := wholeFlight()
	f.airborne = readings.Condition{Certain: during(80, 500), True: during(80, 500), False: during(0, 80, 500, 600), Possible: during(80, 500)}
	env := newTracks(f, nil)
	f.findRolls(env, f.air)
	alike(t, "by speed", []any{len(f.Rolls), hundredths(f.Rolls[0].Begins.Nominal), f.Rolls[0].Ends.Nominal, f.Rolls[0].Ended, f.Rolls[0].HighestSpeed}, []any{1, 64.29, 80.0, InLiftOff, 150.0})
	none := flightOf(600)
	none.airborne = f.airborne
	none.findRolls(newTracks(none, nil), f.air)
	alike(t, "the lift-off alone", []any{len(none.Rolls), none.Rolls[0].Begins.Nominal, none.Rolls[0].Begins.Earliest, none.Rolls[0].Ends.Nominal, none.Rolls[0].Known}, []any{1, 80.0, 0.0, 80.0, false})
	thrust := criteria{"takeoff_thrust": expressionOf(t, "engine_n1_1 > 80", language.Condition)}
	by := wholeFlight(along("engine_n1_1", 600, straight(61, 20, 62, 100, 300, 100, 301, 20)))
	by.airborne = f.airborne
	by.findRolls(newTracks(by, thrust), by.air)
	alike(t, "by thrust", []any{len(by.Rolls), by.Rolls[0].Begins.Nominal}, []any{1, 61.75})
	silent := wholeFlight()
	silent.airborne = f.airborne
	silent.findRolls(newTracks(silent, thrust), silent.air)
	alike(t, "by speed where thrust is not recorded", []any{len(silent.Rolls), hundredths(silent.Rolls[0].Begins.Nominal)}, []any{1, 64.29})
	// Acts of a go-around: thrust, the lever to UP, flap steps.
	acting := wholeFlight(along("engine_n1_1", 600, straight(61, 20, 62, 100)), seconds("gear_lever", append(repeated(90, 2), repeated(511, 0)...)...), seconds("flap_handle", append(repeated(100, 15), repeated(501, 5)...)...))
	var at []float64
	for _, m := range acting.acts(newTracks(acting, thrust)) {
		at = append(at, m.Nominal)
	}
	alike(t, "acts", at, []float64{61.75, 90, 100})
	alike(t, "no acts", len(flightOf(9).acts(newTracks(flightOf(9), nil))), 0)
	// Touch-and-go after ten seconds on the wheels, balked before.
	for end, want := range map[float64]Landed{210: TouchAndGo, 209.9: BalkedLanding} {
		f := wholeFlight()
		f.findTouchdowns(newTracks(f, nil), []stay{stayOf(80, 200), stayOf(end, 500)})
		alike(t, "touchdowns", []any{len(f.Touchdowns), f.Touchdowns[0].Landed, f.Touchdowns[1].Landed}, []any{2, want, FullStop})
	}
	// Fifteen seconds on the wheels, and the landing flap still set as they leave the ground: balked, unless the type also
	// takes off with it.
	for classes, want := range map[string]Landed{"landing": BalkedLanding, "landing takeoff": TouchAndGo, "takeoff": TouchAndGo} {
		f := wholeFlight(seconds("flap_handle", repeated(601, 30)...))
		f.Profile = &schemas.Profile{Flaps: schemas.Flaps{Parameters: []string{"flap_handle"}, Tolerance: 2, Detents: []schemas.Detent{{Name: "0"}, {Name: "30", Angle: 30, Classes: strings.Fields(classes)}}}}
		f.findTouchdowns(newTracks(f, nil), []stay{stayOf(80, 200), stayOf(215, 500)})
		alike(t, classes, f.Touchdowns[0].Landed, want)
	}
	f.Touchdowns, f.EndsInAir = nil, true
	f.findTouchdowns(env, f.air)
	alike(t, "ends in the air", len(f.Touchdowns), 0)
}
