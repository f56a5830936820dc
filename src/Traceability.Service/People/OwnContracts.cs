using System.Security.Claims;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authentication.Cookies;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What a door is about, as far as contracts matter.</summary>
public enum Concern
{
    /// <summary>Nothing of any contract.</summary>
    Nobodys,

    /// <summary>Many things; the door leaves out what is not the reader's.</summary>
    Filtered,

    /// <summary>One or more units, named by "id" or "unit".</summary>
    Unit,

    /// <summary>A record, named by "id", "record" or "recordId".</summary>
    Record,
    Packet,
    Delivery,

    /// <summary>An uploaded letter, named by its hash.</summary>
    Document,

    /// <summary>What somebody writes: the action itself asks whose it is.</summary>
    Act,
}

/// <summary>
/// An agency's inspector reads what belongs to the agencies assigned to that person today, and nothing of others. Every door has its row here; one
/// without is closed to inspectors. Others read everything.
/// </summary>
public sealed class OwnContracts(NpgsqlDataSource source, DossierStore dossiers, TimeProvider clock, PlantTime time)
{
    /// <summary>Records that bear on more units than this are asked of these first ones. Our own choice.</summary>
    private const int MostUnits = 200;

    /// <summary>By the pattern of the door. What is not here spans contracts: the board, recall, strength, replay of everything, the kiosks' shelf.</summary>
    public static IReadOnlyDictionary<string, Concern> Doors { get; } = new Dictionary<string, Concern>(StringComparer.Ordinal)
    {
        ["/waiting"] = Concern.Nobodys, ["/v1/claims/"] = Concern.Nobodys, ["/v1/claims/{id:guid}/confirmations"] = Concern.Nobodys, ["/v1/claims/{id:guid}/refusals"] = Concern.Nobodys,
        ["/account"] = Concern.Nobodys, ["/profiles"] = Concern.Nobodys, ["/profiles/{name}"] = Concern.Nobodys, ["/v1/profiles"] = Concern.Nobodys, ["/v1/profiles/{name}"] = Concern.Nobodys,
        ["/v1/people/{id}/own-secrets"] = Concern.Nobodys, ["/v1/log/checkpoint"] = Concern.Nobodys, ["/v1/log/consistency"] = Concern.Nobodys, ["/v1/receipts"] = Concern.Nobodys, ["/v1/replay/moment"] = Concern.Nobodys,
        ["/"] = Concern.Filtered, ["/units"] = Concern.Filtered, ["/v1/units"] = Concern.Filtered, ["/v1/packets/"] = Concern.Filtered, ["/v1/notices"] = Concern.Filtered,
        ["/units/{**id}"] = Concern.Unit, ["/compare/{**id}"] = Concern.Unit, ["/replay/units/{**id}"] = Concern.Unit, ["/v1/units/{id}"] = Concern.Unit, ["/v1/units/{id}/dossier"] = Concern.Unit,
        ["/v1/units/{id}/compare"] = Concern.Unit, ["/v1/replay/units/{id}/changes"] = Concern.Unit,
        ["/records/{id:guid}"] = Concern.Record, ["/replay/decisions/{id:guid}"] = Concern.Record, ["/v1/replay/decisions/{record:guid}"] = Concern.Record, ["/v1/log/proof/{recordId:guid}"] = Concern.Record,
        ["/v1/packets/{id}"] = Concern.Packet, ["/v1/packets/{id}/packet.pdf"] = Concern.Packet,
        ["/v1/deliveries/{id}/certificates"] = Concern.Delivery, ["/v1/deliveries/{id}/certificates/{number}/certificate.pdf"] = Concern.Delivery,
        ["/v1/documents/{sha256}"] = Concern.Document,
        ["/v1/decisions/agency-acts"] = Concern.Act, ["/v1/decisions/corrections"] = Concern.Act, ["/v1/decisions/withdrawals"] = Concern.Act,
    };

    private static readonly string[] s_names = ["id", "unit", "record", "recordId", "sha256"];

    /// <summary>Whether a person reads own contracts only.</summary>
    public static bool IsBound(ClaimsPrincipal user) => user.IsInRole(Roles.AgencyInspector);

    /// <summary>The agencies a person is assigned to today.</summary>
    public async Task<IReadOnlyList<string>> AgenciesAsync(string person, CancellationToken cancel)
    {
        var dossier = await dossiers.LoadAsync(Subject.Person(person), null, cancel);
        var day = time.DayOf(clock.GetUtcNow());
        return Agencies.Of(Assemble.Counted(dossier.Records, time).Select(e => e.Fact).OfType<InspectorAssigned>(), person, day);
    }

    /// <summary>Those of some units that belong to the reader's agencies; all of them for a reader who is not bound.</summary>
    public async Task<IReadOnlySet<string>> OfAsync(ClaimsPrincipal user, IEnumerable<string> units, CancellationToken cancel)
    {
        var asked = units.ToHashSet(StringComparer.Ordinal);
        if (!IsBound(user)) return asked;
        var agencies = await AgenciesAsync(user.PersonId(), cancel);
        var own = new HashSet<string>(StringComparer.Ordinal);
        if (agencies.Count == 0) return own;
        foreach (var unit in asked)
        {
            if (Subject.IsId(unit, "unit") && Agencies.Of(Assemble.Unit(await dossiers.LoadAsync(Subject.Unit(unit), null, cancel))) is { } agency && agencies.Contains(agency, StringComparer.Ordinal)) own.Add(unit);
        }

        return own;
    }

    /// <summary>Whether a request of a bound reader is about own contracts only, whatever part of the request names them.</summary>
    public async Task<bool> MayAsync(HttpContext http, Concern concern, CancellationToken cancel)
    {
        if (concern is Concern.Nobodys or Concern.Filtered or Concern.Act) return true;
        var named = s_names.Select(n => http.GetRouteValue(n) as string).Concat(s_names.SelectMany(n => http.Request.Query[n].ToArray()))
            .Concat(http.Request.HasFormContentType ? s_names.SelectMany(n => http.Request.Form[n].ToArray()) : []).Where(v => !string.IsNullOrEmpty(v)).Select(v => v!).Distinct(StringComparer.Ordinal).ToList();
        foreach (var name in named)
        {
            if (!await IsOwnAsync(http.User, concern, name, cancel)) return false;
        }

        return named.Count > 0;
    }

    private async Task<bool> IsOwnAsync(ClaimsPrincipal user, Concern concern, string name, CancellationToken cancel)
    {
        switch (concern)
        {
            case Concern.Unit:
                return (await OfAsync(user, [name], cancel)).Count == 1;
            case Concern.Packet:
                return await AllOwnAsync(user, "select unnest(units) from trace.packet where id = $1", name, cancel);
            case Concern.Delivery:
                return await AllOwnAsync(user, "select unnest(units) from trace.load_certificate where delivery = $1", name, cancel);
            case Concern.Record:
                return Guid.TryParse(name, out var id) && (await OfAsync(user, await AboveAsync("select position from trace.record where id = $1", id, cancel), cancel)).Count > 0;
            case Concern.Document:
                // The hash stands in the record that attaches the letter; hexadecimal digits only, so that nothing else can be asked.
                return name.Length == 64 && name.All(char.IsAsciiHexDigitLower)
                    && (await OfAsync(user, await AboveAsync("select position from trace.record where type = 'document.attached.v1' and position($1::bytea in bytes) > 0", System.Text.Encoding.ASCII.GetBytes(name), cancel), cancel)).Count > 0;
            default:
                return false;
        }
    }

    // What holds several units is open only to who may read each of them.
    private async Task<bool> AllOwnAsync(ClaimsPrincipal user, string sql, string name, CancellationToken cancel)
    {
        var units = await ReadAsync(sql, name, cancel);
        return units.Count > 0 && (await OfAsync(user, units, cancel)).Count == units.Distinct(StringComparer.Ordinal).Count();
    }

    private Task<List<string>> AboveAsync(string positions, object name, CancellationToken cancel) => ReadAsync($"""
        with recursive up(subject) as (
            select distinct a.subject from ({positions}) p cross join lateral (select a.subject from trace.about a where a.position = p.position offset 0) a
            union
            select l.from_subject from up join trace.link l on l.to_subject = up.subject
        )
        select substr(subject, 6) from up where subject like 'unit:%' order by 1 limit {MostUnits}
        """, name, cancel);

    private async Task<List<string>> ReadAsync(string sql, object name, CancellationToken cancel)
    {
        await using var command = source.CreateCommand(sql);
        command.Parameters.Add(new() { Value = name });
        await using var row = await command.ExecuteReaderAsync(cancel);
        var found = new List<string>();
        while (await row.ReadAsync(cancel)) found.Add(row.GetString(0));
        return found;
    }
}

/// <summary>Stands behind the doors of all roles: lets an agency's inspector through to own contracts only.</summary>
public sealed class OwnContractsOnly(RequestDelegate next, OwnContracts own)
{
    public async Task InvokeAsync(HttpContext http)
    {
        if (http.GetEndpoint() is RouteEndpoint endpoint && OwnContracts.IsBound(http.User) && endpoint.Metadata.GetMetadata<Microsoft.AspNetCore.Authorization.IAuthorizeData>() is not null
            && endpoint.Metadata.GetMetadata<Microsoft.AspNetCore.Authorization.IAllowAnonymous>() is null)
        {
            var pattern = "/" + endpoint.RoutePattern.RawText!.TrimStart('/');
            if (!OwnContracts.Doors.TryGetValue(pattern, out var concern) || !await own.MayAsync(http, concern, http.RequestAborted))
            {
                if (Access.IsForPrograms(http.Request.Path)) await Problems.Result(Refusal(http.User)).ExecuteAsync(http);
                else await http.ForbidAsync(CookieAuthenticationDefaults.AuthenticationScheme);
                return;
            }
        }

        await next(http);
    }

    private static Microsoft.AspNetCore.Mvc.ProblemDetails Refusal(ClaimsPrincipal user) => Problems.Of(StatusCodes.Status403Forbidden, "other-agency", "Not of your agency's contracts",
        $"{user.PersonId()} is an agency's inspector and reads what belongs to the contracts of that agency. Ask the quality engineer where the assignment is missing.");
}
