-- What a browser was asked to sign with a passkey: answered once, within minutes, in whichever process.
create table if not exists trace.passkey_challenge (
  challenge text primary key,
  person text not null,
  purpose text not null,
  stamp text not null,
  options text not null,
  until timestamptz not null
);
create index if not exists passkey_challenge_until on trace.passkey_challenge (until);

-- How often a passkey says it was used; one that counts back was copied.
create table if not exists trace.passkey_use (
  credential text primary key,
  count bigint not null,
  used_at timestamptz not null
);
