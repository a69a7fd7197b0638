package whichharp

import (
	"reflect"
	"strings"
	"testing"
)

// Each number of the file is the weight of its name.
func TestWeightsByName(t *testing.T) {
	w := reflect.ValueOf(WeightsOf(LearnedWeights()))
	if w.NumField() != len(WeightNames) {
		t.Errorf("%d weights, %d names", w.NumField(), len(WeightNames))
	}
	for i, name := range WeightNames {
		v := w.FieldByNameFunc(func(field string) bool { return strings.EqualFold(field, name) })
		if !v.IsValid() || v.Float() != LearnedWeights()[i] {
			t.Errorf("%s is %v, want %g", name, v, LearnedWeights()[i])
		}
	}
}
