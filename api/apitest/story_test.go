package apitest

import (
	"bytes"
	"context"
	"errors"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// story asks over the network through the client made from the contract, as a
// program of somebody else's would.
type story struct {
	*testing.T
	ctx    context.Context
	server *httptest.Server
	world  *world
}

func (s *story) as(role auth.Role) *openapi.Client {
	s.Helper()
	c := sure(openapi.NewClient(s.server.URL, openapi.WithHTTPClient(s.server.Client()),
		openapi.WithRequestEditorFn(openapi.Bearer(s.world.Ours.Token[role]))))(s)
	return c
}

// sure gives a value that came without an error, or ends the test.
func sure[T any](v T, err error) func(*story) T {
	return func(s *story) T {
		s.Helper()
		if err != nil {
			s.Fatal(err)
		}
		return v
	}
}

// says is whether err is a problem of that code.
func says(err error, code openapi.ProblemCode) bool {
	var p *openapi.Problem
	return errors.As(err, &p) && p.Code == code
}

func key() string { return uuid.NewString() }

// A couple comes in, is quoted, thinks, changes two things, and says yes.
//
//nolint:maintidx // a story is told from its beginning to its end
func TestFromEnquiryToAcceptance(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	server := httptest.NewServer(w.Server.Handler())
	defer server.Close()
	s := &story{T: t, ctx: t.Context(), server: server, world: w}
	sales, owner, floor, books := s.as(auth.Sales), s.as(auth.Owner), s.as(auth.Workshop), s.as(auth.Books)

	customer := sure(openapi.Read[openapi.Customer](sales.AddCustomer(s.ctx, &openapi.AddCustomerParams{IdempotencyKey: key()}, openapi.CustomerContent{
		Kind: openapi.CustomerKindPrivate, Name: "Fairweather", GivenNames: "Ottoline", Telephone: "01632 960115", Email: "ottoline@fairweather.example",
		Address: openapi.Address{Lines: []string{"2 Larch Row", "Sallowby"}, Postcode: "QX4 1ZZ", Country: "GB"},
	})))(s).Body
	van := sure(openapi.Read[openapi.KeptVan](sales.AddVan(s.ctx, &openapi.AddVanParams{IdempotencyKey: key()}, openapi.KeptVanContent{
		Customer: customer.Id,
		Van:      openapi.Van{BaseVan: "short_panel_van", Registration: "QF21 LRC", Particulars: []openapi.ParticularValue{{Name: "rear_doors", Value: "tailgate"}}},
	})))(s).Body
	enquiry := sure(openapi.Read[openapi.Enquiry](sales.AddEnquiry(s.ctx, &openapi.AddEnquiryParams{IdempotencyKey: key()}, openapi.EnquiryContent{
		Customer: customer.Id, Van: van.Id, Source: "a friend", Wants: "Roof, bed, and a place to cook.", FollowUpOn: "2026-11-25",
	})))(s).Body
	if today := sure(openapi.Read[openapi.ToChase](sales.ListToChase(s.ctx, &openapi.ListToChaseParams{})))(s).Body; len(today.Items) != 1 || today.Items[0].Enquiry.Id != enquiry.Id {
		t.Errorf("to follow up today: %+v", today)
	}

	// The first quote, with a one-off line that touches the structure.
	content := openapi.QuoteContent{
		Customer: customer.Id, Enquiry: enquiry.Id, SlotWantedOn: "2027-02-15", FollowUpOn: "2026-12-09",
		Vans: []openapi.QuoteVanContent{{
			VanId: van.Id, Settle: openapi.SettleByDefaults,
			Choices: openapi.Choices{Features: []openapi.Choice{
				{Want: "whole_conversion"}, {Want: "roof_elevating"}, {Want: "hob_two"}, {Want: "sockets_12v", Count: 2}, {Refuse: "lesson"},
			}, Finishes: []openapi.FinishChoice{{Finish: "fabric", Choice: "harbour"}}},
			Additions: []openapi.Addition{{
				Code: "board_rack", Kind: "one-off", Words: "Rack for two surfboards", Stage: "furniture", MassKg: "7.5",
				Hours: []openapi.AdditionHours{{Trade: "joiner", Hours: "5.5"}}, Touches: []openapi.Caution{openapi.CautionStructure},
				Price: openapi.Money{Amount: "640.00", Currency: "GBP"},
			}},
			Extras: []openapi.AskedExtra{{Feature: "heater_diesel"}},
		}},
	}
	kept := sure(openapi.Read[openapi.QuoteKept](sales.CreateQuote(s.ctx, &openapi.CreateQuoteParams{IdempotencyKey: key()}, content)))(s)
	id := kept.Body.Id
	if kept.Body.ReadyToIssue || kept.Location != "/v1/quotes/"+id {
		t.Errorf("it is kept as %+v at %s", kept.Body, kept.Location)
	}
	if _, err := openapi.Read[openapi.QuoteKept](sales.IssueQuote(s.ctx, id, &openapi.IssueQuoteParams{IdempotencyKey: key(), IfMatch: kept.ETag}, openapi.Issue{})); !says(err, openapi.ProblemCodeNotReady) {
		t.Errorf("issuing before the foreman's yes: %v", err)
	}
	kept = sure(openapi.Read[openapi.QuoteKept](floor.ApproveAddition(s.ctx, id, &openapi.ApproveAdditionParams{IdempotencyKey: key(), IfMatch: kept.ETag}, openapi.Approval{Van: 1, Addition: "board_rack"})))(s)
	once := &openapi.IssueQuoteParams{IdempotencyKey: key(), IfMatch: kept.ETag}
	issued := sure(openapi.Read[openapi.QuoteKept](sales.IssueQuote(s.ctx, id, once, openapi.Issue{})))(s)
	again := sure(openapi.Read[openapi.QuoteKept](sales.IssueQuote(s.ctx, id, once, openapi.Issue{})))(s)
	if issued.Body.State != openapi.QuoteStateIssued || issued.Body.Sha256 == "" || again.Body.Sha256 != issued.Body.Sha256 || again.ETag != issued.ETag {
		t.Errorf("issued as %+v, and asked again as %+v", issued, again)
	}
	first := sure(openapi.Read[openapi.Quote](sales.GetQuote(s.ctx, id, &openapi.GetQuoteParams{})))(s).Body

	// Printed, and the same amount stands on it.
	page := string(sure(openapi.ReadBytes(sales.GetQuoteHTML(s.ctx, id, 1)))(s))
	pdf := sure(openapi.ReadBytes(sales.GetQuotePDF(s.ctx, id, 1)))(s)
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) || !strings.Contains(page, thousands(first.Totals.Gross.Amount)) || !strings.Contains(page, "Fairweather") {
		t.Errorf("on paper, %s is not found", first.Totals.Gross.Amount)
	}
	if csv := sure(openapi.ReadBytes(floor.GetSheetCSV(s.ctx, id, 1, 1)))(s); !bytes.Contains(csv, []byte("Rack for two surfboards")) {
		t.Error("the one-off line is not on the build sheet")
	}

	// They come back: found by surname and by the beginning of the plate.
	for _, find := range []string{"fairw", "QF21"} {
		found := sure(openapi.Read[openapi.Customers](sales.ListCustomers(s.ctx, &openapi.ListCustomersParams{Find: new(find)})))(s).Body
		if len(found.Customers) != 1 || found.Customers[0].Id != customer.Id {
			t.Errorf("finding %q gives %+v", find, found)
		}
	}
	if list := sure(openapi.Read[openapi.Quotes](sales.ListQuotes(s.ctx, &openapi.ListQuotesParams{Registration: new("qf21lrc")})))(s).Body; len(list.Quotes) != 1 || list.Quotes[0].Id != id {
		t.Errorf("the quotes of the van: %+v", list)
	}

	// Two things change.
	revised := sure(openapi.Read[openapi.QuoteKept](sales.ReviseQuote(s.ctx, id, &openapi.ReviseQuoteParams{IdempotencyKey: key(), IfMatch: issued.ETag})))(s)
	content.Vans[0].Choices.Features = append(content.Vans[0].Choices.Features, openapi.Choice{Want: "sink_lid"})
	content.Vans[0].Choices.Features[3].Count = 3
	stale := revised.ETag
	revised = sure(openapi.Read[openapi.QuoteKept](sales.ChangeQuote(s.ctx, id, &openapi.ChangeQuoteParams{IfMatch: stale}, content)))(s)
	if _, err := openapi.Read[openapi.QuoteKept](sales.ChangeQuote(s.ctx, id, &openapi.ChangeQuoteParams{IfMatch: stale}, content)); !says(err, openapi.ProblemCodeChangedMeanwhile) {
		t.Errorf("changing it from an older version: %v", err)
	}
	if !revised.Body.ReadyToIssue {
		revised = sure(openapi.Read[openapi.QuoteKept](floor.ApproveAddition(s.ctx, id, &openapi.ApproveAdditionParams{IdempotencyKey: key(), IfMatch: revised.ETag}, openapi.Approval{Van: 1, Addition: "board_rack"})))(s)
	}
	revised = sure(openapi.Read[openapi.QuoteKept](sales.IssueQuote(s.ctx, id, &openapi.IssueQuoteParams{IdempotencyKey: key(), IfMatch: revised.ETag}, openapi.Issue{})))(s)
	compared := sure(openapi.Read[openapi.Comparison](sales.CompareRevisions(s.ctx, id, &openapi.CompareRevisionsParams{From: 1, To: 2})))(s).Body
	if len(compared.Sentences) < 3 {
		t.Errorf("the comparison tells %+v", compared)
	}
	for _, sentence := range compared.Sentences {
		t.Log(sentence.Says)
	}
	for revision := int32(1); revision <= 2; revision++ {
		if r := sure(openapi.Read[openapi.Recomputed](books.RecomputeRevision(s.ctx, id, revision)))(s).Body; !r.Same {
			t.Errorf("revision %d comes to something else: %+v", revision, r)
		}
	}

	// A link goes out; they read it, and say yes at the counter, with the extra.
	link := sure(openapi.Read[openapi.Link](sales.CreateLink(s.ctx, id, &openapi.CreateLinkParams{IdempotencyKey: key(), IfMatch: revised.ETag})))(s).Body
	stranger := sure(openapi.NewClient(server.URL, openapi.WithHTTPClient(server.Client())))(s)
	offered := sure(openapi.Read[openapi.Offered](stranger.GetOffered(s.ctx, link.Link)))(s).Body
	second := sure(openapi.Read[openapi.Quote](sales.GetQuote(s.ctx, id, &openapi.GetQuoteParams{})))(s)
	if offered.Gross != second.Body.Totals.Gross || offered.TermsSha256 != second.Body.TermsSha256 || len(offered.Vans[0].Extras) != 1 {
		t.Errorf("offered is %+v", offered)
	}
	accepted := sure(openapi.Read[openapi.Acceptance](sales.AcceptQuote(s.ctx, id, &openapi.AcceptQuoteParams{IdempotencyKey: key(), IfMatch: second.ETag}, openapi.AcceptanceContent{
		By: "Ottoline Fairweather", How: "counter", Place: openapi.SalePlaceAwayFromThePremises, TermsSha256: offered.TermsSha256,
		Extras: []openapi.Tick{{Van: 1, Feature: "heater_diesel"}},
	})))(s).Body
	if !accepted.Cancellation.Applies || accepted.Cancellation.LastDay != "2026-12-09" || accepted.Revision != 3 || accepted.OfferedRevision != 2 {
		t.Errorf("accepted as %+v", accepted)
	}
	if _, err := openapi.Read[openapi.OfferedAcceptance](stranger.AcceptOffered(s.ctx, link.Link, &openapi.AcceptOfferedParams{IdempotencyKey: key()}, openapi.OfferedYes{By: "Ottoline Fairweather", Agree: true, TermsSha256: offered.TermsSha256})); err == nil {
		t.Error("it is accepted a second time, by the link")
	}

	// Everything about them in one document, and the journal holds.
	all := sure(openapi.Read[openapi.CustomerExport](owner.ExportCustomer(s.ctx, customer.Id)))(s).Body
	if len(all.Vans) != 1 || len(all.Enquiries) != 1 || len(all.Quotes) != 1 || len(all.Acceptances) != 1 {
		t.Errorf("kept about them: %+v", all)
	}
	if lines := sure(openapi.Read[openapi.Journal](books.ListJournal(s.ctx, &openapi.ListJournalParams{})))(s).Body; len(lines.Lines) == 0 {
		t.Error("the journal is empty")
	}
}

// thousands writes 1234.50 as 1,234.50.
func thousands(amount string) string {
	whole, _, _ := strings.Cut(amount, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		amount = amount[:i] + "," + amount[i:]
	}
	return amount
}
