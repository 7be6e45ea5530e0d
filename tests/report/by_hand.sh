cd "$RUN"
for file in attachments+*; do                      # taken out of a PDF: into their folder
  test -e "$file" && mkdir -p attachments && mv "$file" "attachments/${file#attachments+}"
done
of() { sed -n "s/^ *\"$1\": \"\{0,1\}\([^\",]*\)\"\{0,1\},\{0,1\}$/\1/p" seal.json; }
listing=$(mktemp)
{ printf '# steadyamps seal %s\n# run %s\n# state %s\n# sealed %s\n# key %s\n' \
    "$(of schema)" "$(of run_id)" "$(of state)" "$(of sealed_utc)" "$(of key)"
  of name | tr '\n' '\0' | xargs -0 sha256sum; } > "$listing"
echo "$(of whole)  $listing" | sha256sum -c        # OK: not a byte of the run was changed

signature=$(mktemp)                                # where it is signed, with OpenSSL 3:
of value | openssl base64 -d -A > "$signature"
openssl pkeyutl -verify -pubin -inkey "$KEY" -rawin -in "$listing" -sigfile "$signature"
