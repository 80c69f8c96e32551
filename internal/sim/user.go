package sim

import (
	"crypto"
	"crypto/aes"
	"crypto/cipher"
	"crypto/des"
	"crypto/hmac"
	_ "crypto/md5"
	_ "crypto/sha1"
	_ "crypto/sha256"
	_ "crypto/sha512"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"github.com/gosnmp/gosnmp"
)

// User is a user of SNMPv3's user-based security model. Authentication is one
// of MD5, SHA, SHA-224, SHA-256, SHA-384, SHA-512; Privacy one of DES, AES-128,
// AES-192, AES-256, AES-192C, AES-256C (C: the other way of extending keys);
// empty means none. A user is served only at the level that this gives.
type User struct {
	Name              string
	Authentication    string
	Passphrase        string
	Privacy           string
	PrivacyPassphrase string
}

// digest is an authentication protocol: RFC 3414 sections 6 and 7, RFC 7860 section 4.1.
type digest struct {
	protocol gosnmp.SnmpV3AuthProtocol
	hash     crypto.Hash
	octets   int // of the truncated digest
}

var digests = map[string]digest{
	"":        {protocol: gosnmp.NoAuth},
	"MD5":     {gosnmp.MD5, crypto.MD5, 12},
	"SHA":     {gosnmp.SHA, crypto.SHA1, 12},
	"SHA-224": {gosnmp.SHA224, crypto.SHA224, 16},
	"SHA-256": {gosnmp.SHA256, crypto.SHA256, 24},
	"SHA-384": {gosnmp.SHA384, crypto.SHA384, 32},
	"SHA-512": {gosnmp.SHA512, crypto.SHA512, 48},
}

var privacies = map[string]gosnmp.SnmpV3PrivProtocol{
	"": gosnmp.NoPriv, "DES": gosnmp.DES, "AES-128": gosnmp.AES, "AES-192": gosnmp.AES192,
	"AES-256": gosnmp.AES256, "AES-192C": gosnmp.AES192C, "AES-256C": gosnmp.AES256C,
}

// localUser is a user with keys localised to one engine.
type localUser struct {
	name             string
	level            byte // flagAuth, flagPriv
	digest           digest
	des              bool
	authKey, privKey []byte
}

func localise(user User, engineID []byte) (*localUser, error) {
	digest, known := digests[user.Authentication]
	privacy, knownPrivacy := privacies[user.Privacy]
	switch {
	case !known:
		return nil, fmt.Errorf("authentication protocol %q is unknown", user.Authentication)
	case !knownPrivacy:
		return nil, fmt.Errorf("privacy protocol %q is unknown", user.Privacy)
	case user.Privacy != "" && user.Authentication == "":
		return nil, errors.New("privacy without authentication does not exist")
	}
	keys := gosnmp.UsmSecurityParameters{
		AuthoritativeEngineID: string(engineID), UserName: user.Name,
		AuthenticationProtocol: digest.protocol, AuthenticationPassphrase: user.Passphrase,
		PrivacyProtocol: privacy, PrivacyPassphrase: user.PrivacyPassphrase,
	}
	if err := keys.InitSecurityKeys(); err != nil {
		return nil, err
	}
	local := &localUser{name: user.Name, digest: digest, des: privacy == gosnmp.DES, authKey: keys.SecretKey, privKey: keys.PrivacyKey}
	if user.Authentication != "" {
		local.level |= flagAuth
	}
	if user.Privacy != "" {
		local.level |= flagPriv
	}
	return local, nil
}

func (l *localUser) sign(message []byte) []byte {
	mac := hmac.New(l.digest.hash.New, l.authKey)
	mac.Write(message)
	return mac.Sum(nil)[:l.digest.octets]
}

// authentic compares the digest with that of the message whose digest field,
// a slice of it, is zeroed.
func (l *localUser) authentic(raw, digest []byte) bool {
	if len(digest) != l.digest.octets {
		return false
	}
	blank := slices.Clone(raw)
	at := cap(raw) - cap(digest)
	clear(blank[at : at+len(digest)])
	return hmac.Equal(l.sign(blank), digest)
}

// decrypt gives the plain scoped PDU: CBC-DES of RFC 3414 section 8, or AES in
// 128-bit cipher feedback of RFC 3826 section 3.
func (l *localUser) decrypt(m usmMessage) ([]byte, error) {
	sealed, _, err := want(m.data, TagOctetString)
	if err != nil || len(m.salt) != 8 {
		return nil, errBER
	}
	plain := make([]byte, len(sealed))
	if l.des {
		if len(sealed)%des.BlockSize != 0 {
			return nil, errBER
		}
		block, iv, err := l.desBlock(m.salt)
		if err == nil {
			cipher.NewCBCDecrypter(block, iv).CryptBlocks(plain, sealed)
		}
		return plain, err
	}
	block, err := aes.NewCipher(l.privKey)
	if err != nil {
		return nil, err
	}
	cipher.NewCFBDecrypter(block, aesIV(m.boots, m.time, m.salt)).XORKeyStream(plain, sealed)
	return plain, nil
}

func (l *localUser) encrypt(plain []byte, engine Engine, salt []byte) ([]byte, error) {
	if l.des {
		plain = append(plain, make([]byte, (des.BlockSize-len(plain)%des.BlockSize)%des.BlockSize)...)
		block, iv, err := l.desBlock(salt)
		if err == nil {
			cipher.NewCBCEncrypter(block, iv).CryptBlocks(plain, plain)
		}
		return plain, err
	}
	block, err := aes.NewCipher(l.privKey)
	if err != nil {
		return nil, err
	}
	iv := aesIV(int64(engine.Boots), int64(engine.Up.Seconds()), salt)
	cipher.NewCFBEncrypter(block, iv).XORKeyStream(plain, plain)
	return plain, nil
}

func (l *localUser) desBlock(salt []byte) (cipher.Block, []byte, error) {
	iv := make([]byte, des.BlockSize)
	for i := range iv {
		iv[i] = l.privKey[8+i] ^ salt[i]
	}
	block, err := des.NewCipher(l.privKey[:8])
	return block, iv, err
}

func aesIV(boots, seconds int64, salt []byte) []byte {
	iv := binary.BigEndian.AppendUint32(nil, uint32(boots))
	iv = binary.BigEndian.AppendUint32(iv, uint32(seconds))
	return append(iv, salt...)
}
