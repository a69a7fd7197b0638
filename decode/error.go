package decode

import "fmt"

// Error says what is wrong with a recording, in one line, and what to try.
type Error struct {
	Path    string // the file
	Problem string // "it is plain text, not a recording"
	Hint    string // what to try, a sentence; may be empty
	Err     error  // the cause; may be nil
}

// Error returns "PATH: PROBLEM".
func (e *Error) Error() string { return e.Path + ": " + e.Problem }

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// problem is an Error of a file whose name is not known yet.
func problem(hint, format string, args ...any) *Error {
	return &Error{Problem: fmt.Sprintf(format, args...), Hint: hint}
}
