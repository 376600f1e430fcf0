package command

import (
	"runtime/debug"
	"testing"
)

func TestBuildText(t *testing.T) {
	setting := func(pairs ...string) (all []debug.BuildSetting) {
		for i := 0; i < len(pairs); i += 2 {
			all = append(all, debug.BuildSetting{Key: pairs[i], Value: pairs[i+1]})
		}
		return all
	}
	for want, info := range map[string]debug.BuildInfo{
		" (commit 0123456789ab, 2031-05-01, go1.26.8)":              {Settings: setting("vcs.revision", "0123456789abcdef0123456789abcdef01234567", "vcs.time", "2031-05-01T23:59:59Z", "vcs.modified", "false")},
		" (commit 0123456789ab with changes, 2031-05-01, go1.26.8)": {Settings: setting("vcs.revision", "0123456789abcdef", "vcs.time", "2031-05-01T00:00:00Z", "vcs.modified", "true")},
		" (module v1.2.3, go1.26.8)":                                {Main: debug.Module{Version: "v1.2.3"}},
		" (commit not known, go1.26.8)":                             {Main: debug.Module{Version: "(devel)"}},
	} {
		info.GoVersion = "go1.26.8"
		if got := buildText(&info); got != Version+want {
			t.Errorf("%q, want %q", got, Version+want)
		}
	}
}
