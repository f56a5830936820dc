using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Service.Profiles;

/// <summary>A published profile version with the limits confirmed so far and the contracts it governs now.</summary>
public sealed record ShelvedProfile(ProfilePublished Profile, Guid Record, DateTimeOffset PublishedAt, IReadOnlyList<Adoption> Contracts)
{
    public string Name => Profile.About.Id;

    public int Confirmed => Profile.Limits.Count(IsConfirmed);

    public static bool IsConfirmed(Limit limit) => limit.ConfirmedBy is not null;
}

/// <summary>A contract and since when a profile version governs it.</summary>
public sealed record Adoption(string Contract, string Agency, DateTimeOffset Since, Guid Record);

/// <summary>Every profile version that was published, from the records.</summary>
public sealed class ProfileShelf(NpgsqlDataSource source, PlantTime time)
{
    // The rules' records, and what corrects or withdraws them.
    private const string Rules = """
        with rules as (
            select position, id, bytes from trace.record
            where type in ('profile.published.v1', 'profile.confirmed.v1', 'profile.adopted.v1', 'contract.opened.v1')
        )
        select position, bytes from rules
        union all
        select r.position, r.bytes from rules join trace.about a on a.subject = 'record:' || rules.id::text join trace.record r on r.position = a.position
        order by 1
        """;

    private const string Of = """
        select r.position, r.bytes from trace.about a join trace.record r on r.position = a.position where a.subject = $1
        union
        select r.position, r.bytes from trace.about a join trace.record o on o.position = a.position
        join trace.about c on c.subject = 'record:' || o.id::text join trace.record r on r.position = c.position where a.subject = $1
        order by 1
        """;

    /// <summary>All versions by name, the newest of each first.</summary>
    public async Task<IReadOnlyList<ShelvedProfile>> ListAsync(CancellationToken cancel)
    {
        var counted = Assemble.Counted([.. (await ReadAsync(Rules, null, cancel)).DistinctBy(r => r.Id)], time);
        List<Entry<T>> All<T>() where T : IFact => [.. counted.Where(e => e.Fact is T).Select(e => new Entry<T>((T)e.Fact, e))];
        var confirmed = All<ProfileConfirmed>();
        var adopted = All<ProfileAdopted>();
        var governs = All<ContractOpened>().GroupBy(c => c.Fact.Contract, StringComparer.Ordinal).Select(g => g.Last()).Select(c =>
            adopted.LastOrDefault(a => a.Fact.Contract == c.Fact.Contract) is { } a
                ? (Profile: Subject.Profile(a.Fact.Profile, a.Fact.Version), Adoption: new Adoption(c.Fact.Contract, c.Fact.Agency, a.At.At, a.Id))
                : (Profile: Subject.Profile(c.Fact.Profile, c.Fact.ProfileVersion), Adoption: new Adoption(c.Fact.Contract, c.Fact.Agency, c.At.At, c.Id))).ToLookup(x => x.Profile, x => x.Adoption);
        return [.. All<ProfilePublished>().OrderBy(p => p.Fact.Profile, StringComparer.Ordinal).ThenByDescending(p => p.Fact.Version)
            .Select(p => new ShelvedProfile(Confirmations.Apply(p, confirmed).Fact, p.Id, p.At.At, [.. governs[p.Fact.About].OrderBy(a => a.Contract, StringComparer.Ordinal)]))];
    }

    /// <summary>The records of one version: its publication, its confirmations and what changed them. Empty when nobody published it.</summary>
    /// <param name="name">"name@version".</param>
    public async Task<IReadOnlyList<Record>> RecordsAsync(string name, CancellationToken cancel) =>
        Subject.IsId(name, "profile") ? await ReadAsync(Of, "profile:" + name, cancel) : [];

    private async Task<IReadOnlyList<Record>> ReadAsync(string sql, string? subject, CancellationToken cancel)
    {
        await using var command = source.CreateCommand(sql);
        if (subject is not null) command.Parameters.Add(new() { Value = subject });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return records;
    }
}
