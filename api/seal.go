package api

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"errors"
	"fmt"
)

// An answer that shows a secret once is kept sealed, so that the database alone
// does not give the secret away. AES-256-GCM, under a key of the server's.

// sealedMark begins a sealed body; no JSON text begins with it.
const sealedMark = 0

func (s *Server) seal(body []byte) ([]byte, error) {
	box, err := boxOf(s.sealKeys[0])
	if err != nil {
		return nil, err
	}
	out := make([]byte, 1+box.NonceSize(), 1+box.NonceSize()+len(body)+box.Overhead())
	out[0] = sealedMark
	nonce := out[1:]
	if _, err := rand.Read(nonce); err != nil {
		return nil, fmt.Errorf("sealing an answer: %w", err)
	}
	return box.Seal(out, nonce, body, nil), nil //nolint:gosec // the nonce was filled with random bytes just above
}

// unseal gives what was sealed; what was not, as it is.
func (s *Server) unseal(body []byte) ([]byte, error) {
	if len(body) == 0 || body[0] != sealedMark {
		return body, nil
	}
	for _, key := range s.sealKeys {
		box, err := boxOf(key)
		if err != nil {
			return nil, err
		}
		if len(body) < 1+box.NonceSize() {
			break
		}
		nonce, text := body[1:1+box.NonceSize()], body[1+box.NonceSize():]
		if plain, err := box.Open(nil, nonce, text, nil); err == nil {
			return plain, nil
		}
	}
	return nil, errors.New("a kept answer was sealed under a key this server has not")
}

func boxOf(key []byte) (cipher.AEAD, error) {
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, fmt.Errorf("sealing: %w", err)
	}
	box, err := cipher.NewGCM(block)
	if err != nil {
		return nil, fmt.Errorf("sealing: %w", err)
	}
	return box, nil
}
