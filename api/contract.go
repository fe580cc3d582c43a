package api

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/pb33f/jsonschema/v6"
	"github.com/pb33f/jsonschema/v6/kind"
	"github.com/pb33f/libopenapi"
	"github.com/pb33f/libopenapi-validator/config"
	contracterrors "github.com/pb33f/libopenapi-validator/errors"
	"github.com/pb33f/libopenapi-validator/parameters"
	"github.com/pb33f/libopenapi-validator/schema_validation"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"wainscot/openapi"
)

// contract holds requests against openapi.yaml before any handler sees them:
// parameters by the library's validator, bodies by the same library's compiled
// schemas on the tree that was already read. (Its validator would read the
// body again and look up every fault's line in the contract, which nobody is
// shown: 0.4 s for a list of 5,000 wrong members.)
type contract struct {
	parameters parameters.ParameterValidator
	writing    sync.Mutex // see parameterFaults
	// operations by method and path template, as in "GET /v1/quotes/{id}".
	operations map[string]operation
}

// operation is what the server itself needs to know of one.
type operation struct {
	path    string // template
	item    *v3.PathItem
	body    *jsonschema.Schema // nil: takes none
	accepts accepts            // of body
	queries []string
	// parameters by name.
	parameters map[string]*base.Schema
	// maxBytes of a body. document: it is a document that is read by its own
	// reader and not by the contract.
	maxBytes int64
	document bool
	// keyed: it takes an Idempotency-Key; conditional: it takes If-Match.
	keyed, conditional bool
}

// readContract is the contract, compiled once for all servers of a program:
// nothing in it is a server's own. An error means that the program was built
// wrong.
var readContract = sync.OnceValues(compileContract)

func compileContract() (*contract, error) {
	document, err := libopenapi.NewDocument(openapi.Contract)
	if err != nil {
		return nil, fmt.Errorf("openapi.yaml: %w", err)
	}
	model, err := document.BuildV3Model()
	if err != nil {
		return nil, fmt.Errorf("openapi.yaml: %w", err)
	}
	options := config.NewValidationOptions(
		config.WithFormatAssertions(),
		config.WithoutSecurityValidation(), // tokens are read by signedIn
	)
	k := &contract{
		parameters: parameters.NewParameterValidator(&model.Model, config.WithExistingOpts(options)),
		operations: map[string]operation{},
	}
	for path, item := range model.Model.Paths.PathItems.FromOldest() {
		for method, op := range item.GetOperations().FromOldest() {
			o := operation{path: path, item: item, parameters: map[string]*base.Schema{}}
			for _, p := range slices.Concat(item.Parameters, op.Parameters) {
				o.parameters[p.Name] = p.Schema.Schema()
				switch {
				case p.In == "query":
					o.queries = append(o.queries, p.Name)
				case p.In == "header" && strings.EqualFold(p.Name, "Idempotency-Key"):
					o.keyed = true
				case p.In == "header" && strings.EqualFold(p.Name, "If-Match"):
					o.conditional = true
				}
			}
			if op.RequestBody != nil {
				if o.body, o.document, err = bodySchema(op.RequestBody, options); err == nil {
					o.maxBytes, err = bodyLimit(op)
				}
				if err != nil {
					return nil, fmt.Errorf("openapi.yaml: body of %s %s: %w", method, path, err)
				}
			}
			if o.body != nil {
				o.accepts = acceptsOf(o.body)
			}
			k.operations[strings.ToUpper(method)+" "+path] = o
		}
	}
	return k, nil
}

// anyDocument is the contract's word for a body with a reader of its own.
const anyDocument = "#/components/schemas/AnyDocument"

func bodySchema(b *v3.RequestBody, options *config.ValidationOptions) (_ *jsonschema.Schema, document bool, _ error) {
	media, ok := b.Content.Get("application/json")
	if !ok {
		return nil, false, errors.New("not application/json")
	}
	// Not as a request's body: that is for readOnly and writeOnly, which the
	// contract does without, and reads the whole contract again for each.
	compiled, err := schema_validation.CompileSchemaForValidation(
		media.Schema.Schema(), schema_validation.SchemaValidationPurposeGeneric, options, openAPIVersion)
	if err != nil {
		return nil, false, err
	}
	return compiled.CompiledSchema, media.Schema.GetReference() == anyDocument, nil
}

// bodyLimit is how large a body the operation takes.
func bodyLimit(op *v3.Operation) (int64, error) {
	if op.Extensions == nil {
		return maxBodyBytes, nil
	}
	said, ok := op.Extensions.Get("x-max-body-bytes")
	if !ok {
		return maxBodyBytes, nil
	}
	n, err := strconv.ParseInt(said.Value, 10, 64)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("x-max-body-bytes is %q", said.Value)
	}
	return n, nil
}

// openAPIVersion tells the library which keywords there are.
const openAPIVersion = 3.1

// broken says in what ways a request breaks the contract; nil when it keeps
// it.
func (k *contract) broken(r *http.Request, o operation, b body) *problem {
	found := strayQueries(r, o.queries)
	if strings.Contains(o.path, "{") || len(o.queries) > 0 {
		found = append(found, k.parameterFaults(r, o)...)
	}
	if o.body != nil && !o.document {
		if e := o.bodyFaults(b.tree); e != nil {
			found = leaves(found, "", e)
		}
	}
	if len(found) == 0 {
		return nil
	}
	slices.SortStableFunc(found, func(a, b openapi.FieldError) int { return byPlace(a.Field, b.Field) })
	return &problem{
		code:   openapi.ProblemCodeContractBroken,
		detail: "The request breaks the contract.",
		remedy: "Mend the fields named in errors; the contract is at /v1/openapi.yaml.",
		errors: slices.CompactFunc(found, func(a, b openapi.FieldError) bool {
			return a.Field == b.Field && a.Code == b.Code && a.Reason == b.Reason && a.Remedy == b.Remedy
		}),
	}
}

// parameterFaults asks the library about parameters, one request at a time: it
// notes in the contract's own schemas how it is writing them out.
func (k *contract) parameterFaults(r *http.Request, o operation) (found []openapi.FieldError) {
	k.writing.Lock()
	defer k.writing.Unlock()
	for _, check := range []func(*http.Request, *v3.PathItem, string) (bool, []*contracterrors.ValidationError){
		k.parameters.ValidatePathParamsWithPathItem, k.parameters.ValidateQueryParamsWithPathItem,
	} {
		_, faults := check(r, o.item, o.path)
		for _, fault := range faults {
			found = append(found, o.parameterErrors(fault)...)
		}
	}
	return found
}

// byPlace orders pointers, places in lists as numbers.
func byPlace(a, b string) int {
	return slices.CompareFunc(strings.Split(a, "/"), strings.Split(b, "/"), func(a, b string) int {
		m, noA := strconv.Atoi(a)
		n, noB := strconv.Atoi(b)
		if noA == nil && noB == nil {
			return m - n
		}
		return strings.Compare(a, b)
	})
}

// strayQueries finds query parameters the operation does not have, or has
// twice: both would be passed over in silence.
func strayQueries(r *http.Request, known []string) []openapi.FieldError {
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return []openapi.FieldError{{
			Field: "query", Code: "not_readable",
			Reason: "The part of the address after ? is not properly encoded.", Remedy: "Percent-encode names and values.",
		}}
	}
	var found []openapi.FieldError
	for name, given := range values {
		switch {
		case !slices.Contains(known, name):
			found = append(found, openapi.FieldError{
				Field: "query/" + clip(name), Code: "unknown", Reason: "There is no such parameter here.",
				Remedy: "Leave it out" + among(known, "; there are ") + ".",
			})
		case len(given) > 1:
			found = append(found, openapi.FieldError{
				Field: "query/" + name, Code: "twice", Reason: "The parameter is given more than once.", Remedy: "Give it once.",
			})
		}
	}
	return found
}

// parameterErrors turns what the validator found about a parameter into our
// words: its own name schemas and keywords, which nobody outside can see.
func (o *operation) parameterErrors(fault *contracterrors.ValidationError) []openapi.FieldError {
	place := fault.ValidationSubType + "/" + clip(fault.ParameterName)
	var found []openapi.FieldError
	for _, failure := range fault.SchemaValidationErrors {
		if root := failure.OriginalJsonSchemaError; root != nil {
			return leaves(found, place, root)
		}
	}
	if schema := o.parameters[fault.ParameterName]; schema != nil { // what the library says without a schema's finding
		switch {
		case len(schema.Enum) > 0:
			var values []any
			for _, v := range schema.Enum {
				values = append(values, v.Value)
			}
			return explained(place, &kind.Enum{Want: values})
		case slices.Contains(schema.Type, "integer"):
			return []openapi.FieldError{{Field: place, Code: "wrong_type", Reason: "It is not a whole number.", Remedy: "Write it in digits."}}
		}
	}
	return []openapi.FieldError{{
		Field: place, Code: "not_allowed", Reason: "The contract does not allow the value.", Remedy: "See the contract for what may stand here.",
	}}
}

// leaves walks down to the findings that are not made of others.
func leaves(found []openapi.FieldError, place string, e *jsonschema.ValidationError) []openapi.FieldError {
	if len(e.Causes) > 0 {
		for _, cause := range e.Causes {
			found = leaves(found, place, cause)
		}
		return found
	}
	field := place
	for _, token := range e.InstanceLocation {
		field += "/" + clip(strings.NewReplacer("~", "~0", "/", "~1").Replace(token))
	}
	if field == "" {
		field = "/"
	}
	const most = 400 // the contract allows 500, and one name may yet follow
	if len(field) > most {
		field = strings.ToValidUTF8(field[:most], "") + "…"
	}
	return append(found, explained(field, e.ErrorKind)...)
}

// explained says what a schema keyword found, as reason and remedy.
func explained(field string, found jsonschema.ErrorKind) []openapi.FieldError {
	one := func(code, reason, remedy string) []openapi.FieldError {
		return []openapi.FieldError{{Field: field, Code: code, Reason: reason, Remedy: remedy}}
	}
	switch k := found.(type) {
	case *kind.Required:
		return each(k.Missing, func(name string) openapi.FieldError {
			return openapi.FieldError{Field: below(field, name), Code: "missing", Reason: "The field must be there and is not.", Remedy: "Add it."}
		})
	case *kind.AdditionalProperties:
		return each(k.Properties, func(name string) openapi.FieldError {
			return openapi.FieldError{Field: below(field, name), Code: "unknown", Reason: "There is no such field here.", Remedy: "Leave it out, or check how it is spelled."}
		})
	case *kind.Type:
		return one("wrong_type", fmt.Sprintf("It is %s, and should be %s.", article(k.Got), article(strings.Join(k.Want, " or "))), "Send the type the contract names.")
	case *kind.Enum:
		return one("not_among", "The value is not one of those there are.", "Use "+among(wanted(k.Want), "one of ")+".")
	case *kind.Pattern:
		if words, ok := patterns[k.Want]; ok {
			return one("wrong_form", "The value is not "+words+".", "Write it as that.")
		}
		return one("wrong_form", "The value does not have the form "+k.Want+".", "Write it in that form.")
	case *kind.Format:
		if words, ok := formats[k.Want]; ok {
			return one("wrong_form", "The value is not "+words+".", "Write it as that.")
		}
		return one("wrong_form", "The value does not have the format "+k.Want+".", "Write it as the contract says.")
	case *kind.MinLength:
		return one("too_short", fmt.Sprintf("It has %d characters, and needs %d.", k.Got, k.Want), "Send more.")
	case *kind.MaxLength:
		return one("too_long", fmt.Sprintf("It has %d characters, and may have %d.", k.Got, k.Want), "Send less.")
	case *kind.MinItems:
		return one("too_few", fmt.Sprintf("The list has %d members, and needs %d.", k.Got, k.Want), "Send more.")
	case *kind.MaxItems:
		return one("too_many", fmt.Sprintf("The list has %d members, and may have %d.", k.Got, k.Want), "Send fewer.")
	case *kind.MinProperties:
		return one("too_few", fmt.Sprintf("The object has %d fields, and needs %d.", k.Got, k.Want), "Say something in it, or leave it out.")
	case *kind.UniqueItems:
		return one("twice", fmt.Sprintf("Members %d and %d are the same.", k.Duplicates[0], k.Duplicates[1]), "Name each once.")
	case *kind.Minimum:
		return one("too_small", "The number is less than "+k.Want.RatString()+".", "Send at least that.")
	case *kind.Maximum:
		return one("too_large", "The number is more than "+k.Want.RatString()+".", "Send at most that.")
	}
	return one("not_allowed", "The contract does not allow the value.", "See the contract for what may stand here.")
}

// formats are the contract's formats in words.
var formats = map[string]string{
	"int32":     "a whole number that fits in 32 bits",
	"date":      "a day of the calendar, like 2026-04-01",
	"date-time": "a moment, like 2026-04-01T12:00:00Z",
	"uuid":      "an id as the server gives them",
}

// patterns are those of the contract's that people may run into, in words. Where
// a format says the same it has the same words, and both are told as one.
var patterns = map[string]string{
	`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`:                                   formats["date"],
	`^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$`: formats["uuid"],
	`^[^@\s]+@[^@\s]+$`:                                              anAddress,
	`^[^@\s\x00-\x1f\x7f]+@[^@\s\x00-\x1f\x7f]+$`:                    anAddress,
	`^[0-9+() ./-]*[0-9][0-9+() ./xX#-]*$`:                           "a telephone number in digits",
	`^[\p{L}\p{N}][\p{L}\p{N} .·-]*$`:                                "a registration in letters and digits, with spaces, dots and hyphens between",
	`^[A-HJ-NPR-Z0-9]{17}$`:                                          "a vehicle identification number: 17 capital letters and digits, none of them I, O or Q",
	`^[A-Za-z0-9][A-Za-z0-9 -]*$`:                                    "letters and digits, with spaces and hyphens between",
	`^[A-Z]{3}$`:                                                     "the three capital letters of a currency",
	`^[A-Z]{2}$`:                                                     "the two capital letters of a country",
	`^-?[0-9]{1,18}(\.[0-9]{1,6})?$`:                                 "an amount in digits, like 1234.50",
	`^[0-9]{1,2}(\.[0-9]{1,4})?$`:                                    "a percentage below 100 in digits, like 2.5",
	`^[0-9]{1,4}(\.[0-9]{1,2})?$`:                                    "hours in digits, like 2.5",
	`^[0-9]{1,5}(\.[0-9]{1,3})?$`:                                    aMass,
	`^-?[0-9]{1,5}(\.[0-9]{1,3})?$`:                                  aMass,
	`^[^\x00-\x1f\x7f]*$`:                                            "text in one line",
	`^[^\x00-\x1f\x7f]+$`:                                            "text in one line",
	`^[^\x00-\x1f\x7f]*\S[^\x00-\x1f\x7f]*$`:                         "text in one line that is not blank",
	`^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$`:                           "plain text: it has a control character in it",
	`^[0-9a-f]{64}$`:                                                 "a hash: 64 digits from 0 to f",
	`^[A-Za-z0-9+/]*={0,2}$`:                                         "base64",
}

const (
	anAddress = "an e-mail address"
	aMass     = "a mass in kg in digits, like 1105.5"
)

func each(names []string, say func(string) openapi.FieldError) []openapi.FieldError {
	out := make([]openapi.FieldError, len(names))
	for i, name := range names {
		out[i] = say(name)
	}
	return out
}

func below(field, name string) string {
	if field == "/" {
		return "/" + clip(name)
	}
	return field + "/" + clip(name)
}

func wanted(values []any) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = fmt.Sprint(v)
	}
	return out
}

// among lists what there is, or is empty when there is nothing.
func among(names []string, before string) string {
	if len(names) == 0 {
		return ""
	}
	return before + strings.Join(names, ", ")
}

func article(types string) string {
	switch types {
	case "null", "":
		return "nothing (null)"
	case "object", "array", "integer":
		return "an " + types
	}
	return "a " + types
}

// clip keeps what was sent to us short and plain enough to send back.
func clip(text string) string {
	const most = 120
	cut := text
	if len(cut) > most {
		cut = cut[:most] + "…"
	}
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return unicode.ReplacementChar
		}
		return r
	}, strings.ToValidUTF8(cut, ""))
}
