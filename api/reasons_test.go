package api

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
	"wainscot/openapi"
)

// TestWorkEndsWhenNobodyWaits: reasons and ways out are many steps, and none is
// taken any more once whoever asked has gone.
func TestWorkEndsWhenNobodyWaits(t *testing.T) {
	ctx, gone := context.WithCancel(t.Context())
	gone()
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequestWithContext(ctx, http.MethodPost, "/v1/reasons", http.NoBody)
	// Nothing is there to work with: whatever is begun panics.
	if _, err := answeredReasons(c, nil, nil, []openapi.ReasonAbout{{Feature: "hob_two"}}); !errors.Is(err, context.Canceled) {
		t.Errorf("reasons: %v", err)
	}
	if _, err := (&worked{}).priceChange(c)(&bom.Way{}); !errors.Is(err, context.Canceled) {
		t.Errorf("the price of a way: %v", err)
	}
}
