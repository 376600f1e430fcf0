package schemas

import (
	"bytes"
	"flag"
	"os"
	"reflect"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "prepare parameters.yaml anew")

func TestPreparedParameters(t *testing.T) {
	want, err := readParameters()
	if err != nil {
		t.Fatal(err)
	}
	prepared, err := Prepare(parametersYAML, want)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("parameters.prepared", prepared, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	if string(prepared) != preparedParameters {
		t.Fatal("parameters.prepared is not of parameters.yaml: go test ./schemas -run TestPrepared -update")
	}
	var got vocabulary
	if !ReadPrepared(parametersYAML, preparedParameters, &got) || !reflect.DeepEqual(&got, want) {
		t.Error("what is prepared is not what is written")
	}
	if ReadPrepared(append(bytes.Clone(parametersYAML), '\n'), preparedParameters, &got) {
		t.Error("the prepared form of another document is read")
	}
}

// TestPreparedDamage: a form cut off anywhere, with a line too many, or of another value is
// not read, and nor is one with a line that is not what stands there.
func TestPreparedDamage(t *testing.T) {
	t.Parallel()
	type inner struct {
		Text   string
		Many   []float64
		Maybe  *bool
		Words  map[string]string
		Empty  []string
		None   map[string]string
		Absent []string
		hidden int
	}
	type outer struct {
		First inner
		Pair  [2]float64
		Yes   bool
	}
	yes := true
	document, value := []byte("text"), outer{inner{"one\ntwo \"three\"", []float64{1, -2.5e-7}, &yes, map[string]string{"b": "", "a": "x"}, []string{}, map[string]string{}, nil, 0}, [2]float64{3, 4}, true}
	form, err := Prepare(document, &value)
	if err != nil {
		t.Fatal(err)
	}
	prepared := string(form)
	var got outer
	if !ReadPrepared(document, prepared, &got) || !reflect.DeepEqual(got, value) {
		t.Fatalf("%+v comes back as %+v", value, got)
	}
	for i := range prepared[:len(prepared)-1] {
		if ReadPrepared(document, prepared[:i], new(outer)) {
			t.Errorf("cut off after %d bytes it is read", i)
		}
	}
	for what, wrong := range map[string]string{
		"a line too many": prepared + "1\n", "no number": strings.Replace(prepared, "-2.5e-07", "x", 1), "no text": strings.Replace(prepared, `"x"`, "x", 1),
		"too long a list": strings.Replace(prepared, "\n2\n1\n", "\n2000000000\n1\n", 1),
	} {
		if wrong == prepared || ReadPrepared(document, wrong, new(outer)) {
			t.Errorf("%s: it is read", what)
		}
	}
	if ReadPrepared(document, prepared, new(inner)) || ReadPrepared([]byte("other"), prepared, new(outer)) {
		t.Error("the form of another value or document is read")
	}
	one := 1.0
	if form, err := Prepare(document, &struct{ Maybe *float64 }{&one}); err != nil || ReadPrepared(document, string(form), new(struct{ Maybe *bool })) {
		t.Errorf("a number is read as true or false, %v", err)
	}
	if _, err := Prepare(document, new(chan int)); err == nil {
		t.Error("a channel is prepared")
	}
}
