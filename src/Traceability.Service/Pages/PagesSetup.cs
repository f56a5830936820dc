using Traceability.Service.Board;

namespace Traceability.Service.Pages;

public static class PagesSetup
{
    public static void AddPages(this IServiceCollection services)
    {
        // Named, because the entry assembly of a test is not this one.
        services.AddRazorPages().AddMvcOptions(o => o.Filters.Add<HandlerDoors>()).AddApplicationPart(typeof(PagesSetup).Assembly);
        services.AddAntiforgery(o => { o.Cookie.Name = "trace-form"; o.Cookie.SameSite = SameSiteMode.Strict; });
        services.AddExceptionHandler<WentWrong>().AddExceptionHandler<Operations.FailureInWords>();
        services.AddSingleton<PlantSettings>().AddSingleton<BoardReader>();
    }
}
