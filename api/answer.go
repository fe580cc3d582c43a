package api

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"
)

// nothing answers that it is done and there is nothing to say.
func nothing(c *gin.Context) error {
	c.Header("Cache-Control", "no-store")
	c.Status(http.StatusNoContent)
	c.Writer.WriteHeaderNow()
	return nil
}

// answer sends a contract type. It is encoded whole before the first byte
// goes out, so that a fault is still a problem and never half an answer.
func answer(c *gin.Context, status int, value any) error {
	encoded, err := encode(value)
	if err != nil {
		return fmt.Errorf("encoding the answer: %w", err)
	}
	if p := begunProgress(c); p != nil {
		p.end(status, "", encoded)
		return nil
	}
	c.Header("Cache-Control", "no-store")
	c.Data(status, "application/json", encoded)
	return nil
}
