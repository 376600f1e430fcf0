package objects

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/minio/minio-go/v7"
)

// Error says why an object or a prefix cannot be read, and what to do.
type Error struct {
	Address string
	Cause   string
	Help    string
	like    error // fs.ErrNotExist, fs.ErrPermission or nil
}

func (e *Error) Error() string {
	if e.Address == "" {
		return e.Cause
	}
	return e.Address + ": " + e.Cause
}

// Hint is the remedy.
func (e *Error) Hint() string { return e.Help }

// Unwrap says what a file system would, where an object is not there or may not be read.
func (e *Error) Unwrap() error { return e.like }

func replaced(address string) *Error {
	return &Error{Address: address, Cause: "changed while it was read", Help: "it may be being written still; scan it again once that is done"}
}

// failure makes an Error of the error of a request. Codes are those of the S3 API reference, "Error
// responses".
func (c *connection) failure(address string, err error) error {
	var own *Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	bucket, _ := split(address)
	e := &Error{Address: address}
	var said minio.ErrorResponse
	if !errors.As(err, &said) || said.StatusCode == 0 {
		var of *url.Error
		if errors.As(err, &of) { // the address of the request says nothing new; the library may repeat it in the cause
			if err = of.Err; strings.HasPrefix(err.Error(), "Connection closed by foreign host") {
				err = errors.New("it closed the connection")
			}
		}
		e.Cause = fmt.Sprintf("the store %s gave no answer: %v", c.settings, err)
		e.Help = "check AWS_ENDPOINT_URL_S3, or endpoint_url in the shared file, and the network, then scan again"
		if distrusted(err) {
			e.Help = "give the certificate that signs it in AWS_CA_BUNDLE; write http:// if the store has no certificate"
		}
		return e
	}
	switch code := said.Code; {
	case code == "NoSuchBucket":
		e.Cause = fmt.Sprintf("the store %s has no bucket %s", c.settings, bucket)
		e.Help = "check the name, and that AWS_ENDPOINT_URL_S3 and AWS_REGION are those of its store"
	case said.StatusCode == http.StatusNotFound:
		e.Cause, e.Help, e.like = "there is no such object", "check the name; it may have been removed since it was listed", fs.ErrNotExist
	case said.StatusCode == http.StatusPreconditionFailed:
		return replaced(address)
	case slices.Contains([]string{"InvalidAccessKeyId", "SignatureDoesNotMatch", "InvalidToken", "ExpiredToken", "TokenRefreshRequired"}, code):
		e.Cause = fmt.Sprintf("the store %s does not accept %s (%s)", c.settings, c.settings.who, code)
		e.Help = "check AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY and AWS_SESSION_TOKEN, or the profile of the shared file; temporary keys expire"
	case code == "RequestTimeTooSkewed":
		e.Cause, e.Help = "the clock of this machine differs from that of the store", "set the clock"
	case code == "InvalidObjectState":
		e.Cause, e.Help = "is in the store's archive, and must be restored first", "restore it in the store, then scan again"
	case said.StatusCode == http.StatusForbidden || said.StatusCode == http.StatusUnauthorized:
		e.Cause, e.like = fmt.Sprintf("%s may not read it", c.settings.who), fs.ErrPermission
		e.Help = fmt.Sprintf("let it list the bucket %s (s3:ListBucket) and get its objects (s3:GetObject)", bucket)
		if c.settings.anonymous {
			e.Help = "no key was found: set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or AWS_PROFILE for the shared file; " +
				"a profile that signs in elsewhere (sso, role_arn) is not supported: export its keys"
		}
	case code == "AuthorizationHeaderMalformed" || code == "PermanentRedirect" || said.StatusCode == http.StatusMovedPermanently:
		e.Cause, e.Help = fmt.Sprintf("the bucket %s is in another region than %s", bucket, c.settings.region), "set AWS_REGION to that of the bucket"
		if said.Region != "" {
			e.Help += ", " + said.Region
		}
	case code == "InvalidBucketName":
		e.Cause, e.Help = "the name of the bucket is not valid: "+said.Message, "write s3://bucket/prefix"
	case passing(err):
		e.Cause = fmt.Sprintf("the store %s failed %d times, the last time with %d %s", c.settings, c.settings.attempts, said.StatusCode, code)
		e.Help = "scan again when it is well; AWS_MAX_ATTEMPTS sets how often it is asked"
	default:
		e.Cause, e.Help = fmt.Sprintf("the store %s answered %d %s: %s", c.settings, said.StatusCode, code, said.Message), "its documentation says what that means"
	}
	return e
}

// distrusted reports whether a connection failed for its certificate, which no further try helps.
func distrusted(err error) bool {
	var certificate *tls.CertificateVerificationError
	var unknown x509.UnknownAuthorityError
	var header tls.RecordHeaderError
	return errors.As(err, &certificate) || errors.As(err, &unknown) || errors.As(err, &header) ||
		strings.Contains(err.Error(), "server gave HTTP response to HTTPS client")
}
