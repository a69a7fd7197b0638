package parallel

import "context"

// Await is what f returns or, as soon as the context is done, the context's error: what takes
// a second to hear is not waited for when nobody wants it any more. f then goes on by itself
// to its end, so it must not change what others use.
func Await[T any](ctx context.Context, f func() (T, error)) (T, error) {
	var none T
	if err := ctx.Err(); err != nil {
		return none, err
	}
	if ctx.Done() == nil { // it never is
		return f()
	}
	type result struct {
		value T
		err   error
	}
	made := make(chan result, 1)
	go func() {
		v, err := f()
		made <- result{v, err}
	}()
	select {
	case r := <-made:
		return r.value, r.err
	case <-ctx.Done():
		return none, ctx.Err()
	}
}
