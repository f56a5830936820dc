namespace Traceability.Service.Log;

/// <summary>Tables of the log. Statements may be run again at every start.</summary>
public static class LogSchema
{
    /// <summary>
    /// <c>log_leaf</c> is the log; tiles are derived from it and can be made again. A tile holds the 256 nodes of
    /// level 8 x <c>level</c> from 256 x <c>index</c> on; level 0 has whole tiles only, higher levels grow.
    /// </summary>
    public const string Ddl =
        """
        create schema if not exists trace;

        create table if not exists trace.log_leaf (
            index bigint primary key check (index >= 0),
            position bigint not null,
            record_id uuid not null unique,
            hash bytea not null check (octet_length(hash) = 32)
        );

        create table if not exists trace.log_tile (
            level int not null,
            index bigint not null,
            hashes bytea not null check (octet_length(hashes) between 32 and 8192),
            primary key (level, index)
        );

        create table if not exists trace.checkpoint (
            origin text not null,
            size bigint not null,
            root bytea not null check (octet_length(root) = 32),
            note text not null,
            sealed_at timestamptz not null,
            primary key (origin, size)
        );

        create table if not exists trace.log_origin (
            ordinal int primary key,
            origin text not null unique,
            first_leaf bytea,
            started_at timestamptz not null
        );

        alter table trace.log_origin add column if not exists succession text;

        create table if not exists trace.cosignature (
            origin text not null,
            size bigint not null,
            witness text not null,
            key_id bytea not null,
            line text not null,
            cosigned_at timestamptz not null,
            received_at timestamptz not null,
            primary key (origin, size, witness, key_id)
        );

        create table if not exists trace.log_leaf_superseded (
            origin text not null,
            index bigint not null,
            position bigint not null,
            record_id uuid not null,
            hash bytea not null,
            primary key (origin, index)
        );
        """;
}
