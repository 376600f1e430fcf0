package simulator

import (
	"math"
	"time"

	"downlock/ingest/export"
)

// Usual times of a demonstration flight, s from the start of the recording: it lifts
// off, and about 500 s later it touches down.
const (
	usualLiftOff   = 95.45
	usualTouchdown = 595.3
)

// outward is a flight from Ostrey to Fenmark. change may alter the acts of the
// crew; it may be nil.
func outward(epoch time.Time, change func(*departure, *arrival)) *script {
	return outwardFrom(0, epoch, change)
}

func outwardFrom(start float64, epoch time.Time, change func(*departure, *arrival)) *script {
	s := &script{Scenario{Epoch: epoch, Start: start, From: ostrey, To: fenmark}}
	d, a := usualDeparture(start+usualLiftOff), usualArrival(start+usualTouchdown)
	if change != nil {
		change(&d, &a)
	}
	s.Terrain = []Knot{{d.at + 110, ostreyElevation}, {a.at - 260, fenmarkElevation}}
	s.stand(start)
	s.takeOff(d)
	s.descend(a, d.cruise)
	s.land(a)
	s.End = s.rollOut(a.at)
	return s
}

// departureOnly is the take-off of a flight, up to the retraction of the gear.
func departureOnly() Scenario {
	s := outward(day(time.March, 2, 8, 0), nil)
	s.Seed, s.Start, s.End = 100, 80, 150
	s.Airborne[0].Touchdown = math.Inf(1)
	return s.done()
}

// goAroundFlight breaks off its first approach at 650 ft and lands from the second.
func goAroundFlight() Scenario {
	s := &script{Scenario{Epoch: day(time.March, 3, 14, 20), From: ostrey, To: fenmark}}
	d, first, second := usualDeparture(usualLiftOff), usualArrival(usualTouchdown), usualArrival(usualTouchdown+280)
	s.Terrain = []Knot{{d.at + 110, ostreyElevation}, {first.at - 260, fenmarkElevation}}
	s.stand(0)
	s.takeOff(d)
	s.descend(first, d.cruise)
	s.goAround(first, usualClimbAway())
	s.circuit(second)
	s.land(second)
	s.End = s.rollOut(second.at)
	return s.done()
}

// touchAndGoFlight touches down at Fenmark, lifts off again and lands there.
func touchAndGoFlight() Scenario {
	s := &script{Scenario{Epoch: day(time.March, 5, 9, 45), From: ostrey, To: fenmark}}
	d, first, second := usualDeparture(usualLiftOff), usualArrival(usualTouchdown), usualArrival(usualTouchdown+345)
	s.Terrain = []Knot{{d.at + 110, ostreyElevation}, {first.at - 260, fenmarkElevation}}
	s.stand(0)
	s.takeOff(d)
	s.descend(first, d.cruise)
	s.land(first)
	s.touchAndGo(first.at)
	s.circuit(second)
	s.land(second)
	s.End = s.rollOut(second.at)
	return s.done()
}

// thereAndBack is two flights in one recording. On the second the landing flap is
// late.
func thereAndBack() Scenario {
	s := outward(day(time.April, 9, 7, 5), nil)
	start := s.End + 20
	d, a := usualDeparture(start+usualLiftOff), usualArrival(start+usualTouchdown)
	a.flap30 = 31
	s.Terrain = append(s.Terrain, Knot{d.at + 110, fenmarkElevation}, Knot{a.at - 260, ostreyElevation})
	s.Return = true
	s.stand(start)
	s.takeOff(d)
	s.descend(a, d.cruise)
	s.land(a)
	s.End = s.rollOut(a.at)
	return s.done()
}

// pinnedDown is a flight with the ground-lock pins left in. It returns to Ostrey.
func pinnedDown() Scenario {
	s := outward(day(time.April, 2, 11, 30), func(d *departure, _ *arrival) { d.leverOff = 0 })
	s.Faults.PinsIn = true
	s.Terrain, s.Return = []Knot{{0, ostreyElevation}}, true
	return s.done()
}

func endsInAir() Scenario {
	s := outward(day(time.May, 6, 16, 10), func(d *departure, _ *arrival) {
		d.flapUp, d.climbSpeed = 121, []Knot{{100, 233}, {150, 246}}
	})
	s.End = usualLiftOff + 255
	s.Airborne[0].Touchdown = math.Inf(1)
	return s.done()
}

func beginsInAir() Scenario {
	s := outward(day(time.May, 4, 12, 0), func(_ *departure, a *arrival) { a.gearDown = 118 })
	s.Start = 300
	s.Airborne[0].LiftOff = math.Inf(-1)
	s.Faults.Forced = []Force{{"gear horn", 0, s.End, 0}}
	return s.done()
}

// The formats of the set.
var (
	wide     = export.Format{Layout: export.WideCSV, Compression: export.Gzip}
	wideZstd = export.Format{Layout: export.WideCSV, Compression: export.Zstd}
	long     = export.Format{Layout: export.LongCSV, Compression: export.Gzip}
	longZstd = export.Format{Layout: export.LongCSV, Compression: export.Zstd}
	parquet  = export.Format{Layout: export.WideParquet}
	arrow    = export.Format{Layout: export.WideArrow, Compression: export.Zstd}
)
