package parallel

import (
	"context"
	"errors"
	"testing"
)

// What is made comes back; what is under way when the context ends is not waited for.
func TestAwait(t *testing.T) {
	for _, ctx := range []context.Context{t.Context(), context.Background()} {
		if v, err := Await(ctx, func() (int, error) { return 7, nil }); v != 7 || err != nil {
			t.Errorf("%d, %v", v, err)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	never := make(chan int)
	defer close(never)
	v, err := Await(ctx, func() (int, error) {
		stop()
		return <-never, nil
	})
	if v != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("%d, %v", v, err)
	}
	_, err = Await(ctx, func() (int, error) {
		t.Error("begun although the context was done")
		return 0, nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}
