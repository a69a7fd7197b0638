package decode

import "io"

// input is the bytes of a recording. It keeps what reading failed with first, which decoders
// do not tell from damage. The end of the bytes is no failure.
type input struct {
	r      io.ReaderAt
	size   int64     // bytes
	closer io.Closer // may be nil
	err    error     // what reading failed with first; nil where it never did
}

// ReadAt fills p from offset at on. At the end of the bytes it returns fewer and io.EOF.
func (in *input) ReadAt(p []byte, at int64) (int, error) {
	n := 0
	for n < len(p) {
		k, err := in.r.ReadAt(p[n:], at+int64(n))
		n += k
		switch {
		case err == io.EOF && n == len(p):
			return n, nil
		case err == io.EOF:
			return n, err
		case err == nil && k == 0:
			err = io.ErrNoProgress
			fallthrough
		case err != nil:
			if in.err == nil {
				in.err = err
			}
			return n, err
		}
	}
	return n, nil
}

// Close closes what the bytes come from.
func (in *input) Close() error {
	if in.closer == nil {
		return nil
	}
	return in.closer.Close()
}
