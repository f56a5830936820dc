using System.Security.Cryptography;
using Npgsql;

namespace Traceability.Service.People;

/// <summary>Codes that enrol one kiosk each. Only their hash is kept, for a short while, and a code is used once.</summary>
public sealed class EnrolmentCodes(NpgsqlDataSource source, TimeProvider clock)
{
    /// <summary>How long a code holds. Our own choice.</summary>
    public static readonly TimeSpan ValidFor = TimeSpan.FromMinutes(30);

    // Without letters and digits that are mistaken for each other when read off a screen.
    private const string Alphabet = "ABCDEFGHJKMNPQRSTUVWXYZ23456789";

    /// <summary>Makes a code; it cannot be read again.</summary>
    public async Task<(string Code, DateTimeOffset ValidUntil)> MakeAsync(IReadOnlyList<string> roles, string madeBy, CancellationToken cancel)
    {
        var code = RandomNumberGenerator.GetString(Alphabet, 12);
        var until = clock.GetUtcNow() + ValidFor;
        await using var command = source.CreateCommand("insert into trace.enrolment_code (hash, roles, made_by, valid_until) values ($1, $2, $3, $4)");
        foreach (var value in new object[] { Register.HashKey(code), roles.ToArray(), madeBy, until }) command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync(cancel);
        return (code, until);
    }

    /// <summary>Uses a code up.</summary>
    /// <returns>The roles it was made for and who made it; null when it is not one, used up or too old.</returns>
    public async Task<(IReadOnlyList<string> Roles, string MadeBy)?> UseAsync(string code, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("delete from trace.enrolment_code where hash = $1 and valid_until > $2 returning roles, made_by");
        foreach (var value in new object[] { Register.HashKey(code.Trim().ToUpperInvariant()), clock.GetUtcNow() }) command.Parameters.Add(new() { Value = value });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? (row.GetFieldValue<string[]>(0), row.GetString(1)) : null;
    }
}
