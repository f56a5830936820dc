using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.Board;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

[Authorize(Policy = Access.Read)]
public sealed class IndexModel(BoardReader reader) : PageModel
{
    public BoardNow Board { get; private set; } = null!;

    public async Task OnGetAsync(CancellationToken cancel) => Board = await reader.ReadAsync(cancel);

    public static string Short(int question) => question switch
    {
        1 => "to pour",
        2 => "to strip",
        3 => "without a sample",
        4 => "low breaks",
        5 => "heats without papers",
        6 => "cylinders due",
        7 => "concrete out of limits",
        8 => "to ship",
        9 => "nonconformances",
        _ => "about to lapse",
    };
}
