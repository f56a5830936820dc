using Marten;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Npgsql;
using Traceability.Service.Assembling;
using Traceability.Service.People;

namespace Traceability.Service.Pages.Units;

[Authorize(Policy = Access.Read)]
public sealed class IndexModel(IDocumentStore store, NpgsqlDataSource source, OwnContracts own) : PageModel
{
    private const int Most = 200;

    [BindProperty(SupportsGet = true)]
    public string? Q { get; set; }

    public IReadOnlyList<UnitRow> Units { get; private set; } = [];

    public IReadOnlyList<string> Subjects { get; private set; } = [];

    public bool More { get; private set; }

    public async Task OnGetAsync(CancellationToken cancel)
    {
        Q = string.IsNullOrWhiteSpace(Q) ? null : Q.Trim();
        await using var session = store.QuerySession();
        var like = Q is null ? null : "%" + Q.Replace(@"\", @"\\", StringComparison.Ordinal).Replace("%", @"\%", StringComparison.Ordinal).Replace("_", @"\_", StringComparison.Ordinal) + "%";
        var agencies = OwnContracts.IsBound(User) ? (await own.AgenciesAsync(User.PersonId(), cancel)).ToArray() : null;
        var found = agencies is not null
            ? await session.QueryAsync<UnitRow>("where data ->> 'agency' = any(?) and (? = '' or id ilike ? or data ->> 'mark' ilike ? or data ->> 'form' ilike ? or data ->> 'contract' ilike ?) order by id limit " + (Most + 1), cancel,
                agencies, like ?? "", like ?? "", like ?? "", like ?? "", like ?? "")
            : like is null
            ? await session.Query<UnitRow>().OrderBy(u => u.Id).Take(Most + 1).ToListAsync(cancel)
            : await session.QueryAsync<UnitRow>(
                "where id ilike ? or data ->> 'mark' ilike ? or data ->> 'form' ilike ? or data ->> 'contract' ilike ? order by id limit " + (Most + 1), cancel, like, like, like, like);
        More = found.Count > Most;
        Units = [.. found.Take(Most)];
        // What else is recorded (lots, cages, batches) spans contracts.
        if (like is null || agencies is not null) return;

        await using var command = source.CreateCommand(
            "select distinct subject from trace.about where subject ilike $1 and subject not like 'unit:%' and subject not like 'record:%' order by subject limit 40");
        command.Parameters.Add(new() { Value = like });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var subjects = new List<string>();
        while (await reader.ReadAsync(cancel)) subjects.Add(reader.GetString(0));
        Subjects = subjects;
    }
}
