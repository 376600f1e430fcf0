package detect_test

import "syscall"

// processorSeconds is the time this process has used of all cores together, which other
// programs on the machine disturb less than a clock.
func processorSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
