# Make .venv, or bring it up to date, from a lock with hashes; the program itself is linked in, so edits take effect.
#     sh tools/environment.sh <lock> <stamp>
# The stamp is written last and holds the seconds it took. Where the lock holds uv it does the installing, because it is
# several times as fast; where it cannot, pip does.
set -eu
lock=$1
stamp=$2
python=${PYTHON:-python3.11}
unset PYTHONPATH PYTHONHOME PYTHONDONTWRITEBYTECODE PIP_USER PIP_TARGET PIP_REQUIRE_VIRTUALENV
began=$(date +%s)

command -v "$python" >/dev/null || { echo "$python was not found: install Python 3.11, or say PYTHON=..." >&2; exit 1; }
if "$python" -m pip --version >/dev/null 2>&1; then pip="$python -m pip"; else pip=pip; fi

with_uv() {
    grep -q '^uv==' "$lock" || return 1
    wanted=$(sed -n 's/^uv==\([^ ]*\).*/\1/p' "$lock")
    if [ ! -x ".tools/uv-$wanted/bin/uv" ]; then
        mkdir -p .tools
        sed -n '/^uv==/,/^[a-z]/{/^uv==/p;/^ /p;}' "$lock" >.tools/uv.lock
        $pip install -qq --target ".tools/uv-$wanted" --require-hashes -r .tools/uv.lock || return 1
    fi
    UV_HTTP_RETRIES=1 ".tools/uv-$wanted/bin/uv" pip install -q --compile-bytecode --python .venv/bin/python \
        --require-hashes -r "$lock"
}

echo "environment from $lock ..."
[ -x .venv/bin/python ] || "$python" -m venv --without-pip .venv
rm -f .venv/.run-* .venv/.dev-*
with_uv || $pip --python .venv/bin/python install -qq --disable-pip-version-check --require-hashes -r "$lock"
$pip --python .venv/bin/python install -qq --disable-pip-version-check --no-index --no-deps --no-build-isolation -e .
.venv/bin/python -m compileall -q src
echo $(($(date +%s) - began)) >"$stamp"
echo "environment ready after $(cat "$stamp") s"
