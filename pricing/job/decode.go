package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
)

// decodeStrictly reads one JSON value that has nothing unknown in it and
// nothing after it.
func decodeStrictly(text []byte, into any) error {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	if err := in.Decode(into); err != nil {
		return err
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more follows it")
	}
	return nil
}
