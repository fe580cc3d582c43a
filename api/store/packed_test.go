package store

import (
	"bytes"
	"errors"
	"math/rand"
	"strings"
	"testing"
)

// TestPackedUnpacks: what either way packs is what it unpacks to, of every
// length around where a packing changes, and neither is taken for the other.
func TestPackedUnpacks(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	for _, n := range []int{0, 1, 40, 127, 128, 255, 256, packFrom - 1, packFrom, packFrom + 1, 4_096, 65_535, 65_536, 300_000} {
		noise := make([]byte, n)
		r.Read(noise)
		for _, plain := range [][]byte{[]byte(strings.Repeat("two metres of cable, ", n/21+1)[:n]), noise, make([]byte, n)} {
			slow, quick := Pack(plain), PackQuickly(plain)
			if isBlock(slow.zipped) || isBlock(quick.zipped) != (n >= packFrom) {
				t.Errorf("%d bytes: packed begins with % x, quickly with % x", n, slow.zipped[:4], quick.zipped[:4])
			}
			if slow.sum != quick.sum {
				t.Errorf("%d bytes: two hashes", n)
			}
			for _, p := range []Packed{slow, quick} {
				got, err := p.Unpack()
				if err != nil || !bytes.Equal(got, plain) {
					t.Fatalf("%d bytes: %v, %d back", n, err, len(got))
				}
				for _, broken := range []Packed{
					{zipped: p.zipped[:len(p.zipped)-1], sum: p.sum}, {zipped: p.zipped, sum: strings.Repeat("0", 64)},
					{zipped: append([]byte{0xff, 0xff, 0xff, 0xff, 0x7f}, p.zipped...), sum: p.sum},
				} {
					if _, err := broken.Unpack(); !errors.Is(err, ErrDocument) {
						t.Fatalf("%d bytes, broken: %v", n, err)
					}
				}
			}
		}
	}
}
