//go:build long

package form

import "testing"

func TestAllRenderedForms(t *testing.T) { checkForms(t, len(played)) }
