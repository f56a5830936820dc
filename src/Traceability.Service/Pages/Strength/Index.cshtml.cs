using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;
using Traceability.Service.Strength;

namespace Traceability.Service.Pages.Strength;

[Authorize(Policy = Access.Read)]
public sealed class IndexModel(StrengthReader reader) : PageModel
{
    public IReadOnlyList<(string Mix, int Samples)> Mixes { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken cancel) => Mixes = await reader.MixesAsync(cancel);
}
