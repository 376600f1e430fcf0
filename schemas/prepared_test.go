package schemas

import (
	"bytes"
	"flag"
	"os"
	"reflect"
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
		if err := os.WriteFile("parameters.json", prepared, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(parametersJSON, prepared) {
		t.Fatal("parameters.json is not of parameters.yaml: go test ./schemas -run TestPrepared -update")
	}
	var got vocabulary
	if !ReadPrepared(parametersYAML, parametersJSON, &got) || !reflect.DeepEqual(&got, want) {
		t.Error("what is prepared is not what is written")
	}
	if ReadPrepared(append(bytes.Clone(parametersYAML), '\n'), parametersJSON, &got) {
		t.Error("the prepared form of another document is read")
	}
}
